"""Open the pool's database before it is served: refused with a sentence, or brought up to date with a copy kept."""

import contextlib
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

from ..data_folder import PHOTOS
from ..storage_failures import DAMAGED, FULL, UNWRITABLE, storage_error_of
from .damage import damage_told, loss_told, newest_good_backup
from .engines import engine_in_use
from .existing_backups import backups_folder
from .left_overs import clear_left_overs
from .making import make_backup
from .schema import applied_migrations, unknown_migrations
from .updating import holds_no_records, update_tables

LOCK_PATIENCE_S = 3


def open_pool(*, now, notify):
    """Make the database where there is none, bring an older one up to date after a copy of it is put beside it.

    `notify` is called with sentences about what is done. ValidationError says why the pool cannot be opened and what to
    do; it is then as it was.
    """
    refuse_read_only_folder()
    try:
        clear_left_overs(now)
        _refuse_locked()
        _refuse_damaged()
        _bring_up_to_date(now, notify)
    except (DatabaseError, sqlite3.Error, OSError) as error:
        raise ValidationError(_why_not(error)) from error


def hold_open():
    """A connection for as long as the server runs, for whoever starts one to keep.

    The last connection to SQLite that closes takes the log away, and the next makes it anew: each time the disk is
    waited for, and a full disk has no room for it. One that cannot be had now changes nothing.
    """
    held = connection.copy()
    if connection.vendor == "sqlite":
        with contextlib.suppress(DatabaseError):
            held.ensure_connection()
    return held


def refuse_read_only_folder():
    """ValidationError, with what to do, where nothing can be written into the data folder."""
    folder = settings.DATA_DIR
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise ValidationError(
            f"The data folder {folder} cannot be written to: {error.strerror}. Give your account the right to write "
            "there, free some space on the disk, or name another folder with HALFPOWER_DATA."
        ) from error


def _refuse_locked():
    """SQLite alone locks the whole database; asked with less patience than a page has."""
    if connection.vendor != "sqlite" or not Path(connection.settings_dict["NAME"]).exists():
        return
    try:
        with closing(sqlite3.connect(connection.settings_dict["NAME"], timeout=LOCK_PATIENCE_S)) as probe:
            probe.execute("BEGIN IMMEDIATE")
            probe.rollback()
    except sqlite3.Error as error:
        raise ValidationError(_why_not(error)) from error


def _refuse_damaged():
    if engine_in_use().is_damaged():
        raise ValidationError(damage_told())


def _bring_up_to_date(now, notify):
    before = applied_migrations()
    unknown = unknown_migrations(before)
    if unknown:
        raise ValidationError(
            f"This pool was written by a newer version of this app: it has {'.'.join(unknown[0])}, which is not known "
            "here. Update the app and start again, or name another folder with HALFPOWER_DATA."
        )
    executor = MigrationExecutor(connection)
    if not executor.migration_plan(executor.loader.graph.leaf_nodes()):
        return
    if not before:
        _refuse_lost()
    if before and not holds_no_records():
        notify(f"This pool is from an older version of the app. A copy of it was saved first: {_save_backup(now)}")
    notify("Updating the database." if before else "Creating the database.")
    update_tables(now)


def _refuse_lost():
    """A database that is gone, or was cut to nothing, must not be taken for a first start: copies would follow suit."""
    found = newest_good_backup() if connection.vendor == "sqlite" else None
    if found:
        raise ValidationError(loss_told(*found))


def _save_backup(now):
    backups_folder().mkdir(parents=True, exist_ok=True)
    target = backups_folder() / f"before-update-{now:%Y-%m-%d-%H%M%S}.zip"
    try:
        make_backup(target, now=now, leaving=[PHOTOS])
    except ValidationError as refusal:
        failure = storage_error_of(refusal.__cause__)
        if failure not in (FULL, UNWRITABLE):
            raise
        raise ValidationError(_told(failure)) from refusal
    return target


def _told(failure):
    return f"{failure.what} {failure.do} Then start again. The pool is as it was."


def _why_not(error):
    said, place = str(error).strip(), connection.settings_dict["NAME"]
    if "locked" in said:
        return (
            f"The database {place} is locked: another copy of this app, or another program, is writing to it. Stop "
            "that one, or wait until it is done, and start again."
        )
    failure = storage_error_of(error)
    if failure is DAMAGED:
        return damage_told()
    if failure in (FULL, UNWRITABLE):
        return _told(failure)
    if connection.vendor == "postgresql":
        return f"The database “{place}” does not answer: {said}. Start it, or correct DATABASE_URL, then start again."
    return (
        f"The database {place} cannot be opened: {said}. Give your account the right to write to it, free some "
        "space on the disk, or name another folder with HALFPOWER_DATA."
    )
