"""Put a back-up in place of the pool: all checked and built beside it first, then swapped."""

import shutil
import sqlite3
from itertools import chain, count
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings
from django.contrib.auth.models import User
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection

from fleet.models import CableSegment, CableType, Depot, Event, Mat, MatDesign

from ..models import Instrument, Measurement, PolicyValue, WorkOrder
from .archive import opened
from .engines import NAMES, engine_in_use
from .existing_backups import backups_folder
from .files import swapping_files
from .making import make_backup
from .schema import unknown_migrations

RECORDS = {
    "mats": Mat,
    "cable segments": CableSegment,
    "events": Event,
    "readings": Measurement,
    "work orders": WorkOrder,
    "accounts": User,
    "mat designs": MatDesign,
    "cable types": CableType,
    "depots": Depot,
    "instruments": Instrument,
    "policy values": PolicyValue,
}
BESIDE = ".restore."
DAMAGED = "damaged"
ASK_FOR_REPLACE = "Nothing was restored. With --replace they are removed, after a back-up of them was saved."


def restore_backup(path, *, replace, now, notify):
    """Make the pool what it was when a back-up was made; an older one is brought up to date.

    `notify` is called with sentences about what goes and where a back-up of it lies. Over a pool with records only with
    `replace`. Returns the back-up's manifest. ValidationError when it is refused or fails; the pool is then as it was.
    """
    path = Path(path).absolute()
    try:
        settings.DATA_DIR.mkdir(parents=True, exist_ok=True)
        with opened(path) as archive:
            _refuse_what_does_not_fit(archive)
            _what_goes(replace)
            _restore(archive, replace, now, notify)
            return archive.manifest
    except OSError as error:
        raise ValidationError(f"{error.filename or settings.DATA_DIR} cannot be written: {error.strerror}.") from error
    except (DatabaseError, sqlite3.Error) as error:
        raise ValidationError(f"The database refused it: {error}. Nothing was restored.") from error


def _what_goes(replace):
    """The records that a restore removes, counted by kind; DAMAGED where they cannot be counted."""
    going = DAMAGED if engine_in_use().is_damaged() else pool_records()
    if going and not replace:
        raise ValidationError(f"{_held(going)} {ASK_FOR_REPLACE}")
    return going


def _say_what_goes(going, notify):
    if going is not DAMAGED:
        notify(f"These records are removed: {_listed(going)}.")


def pool_records():
    """{words: how many} of what the pool holds, without what it holds none of; also of an older version's tables."""
    with connection.cursor() as cursor:
        tables = set(connection.introspection.table_names(cursor))
    counts = {words: model.objects.count() for words, model in RECORDS.items() if model._meta.db_table in tables}
    return {words: count for words, count in counts.items() if count}


def _restore(archive, replace, now, notify):
    engine, manifest = engine_in_use(), archive.manifest
    # what a restore that was killed left unpacked
    for left in settings.DATA_DIR.glob(f"{BESIDE}*"):
        shutil.rmtree(left, ignore_errors=True)
    with TemporaryDirectory(prefix=BESIDE, dir=settings.DATA_DIR, ignore_cleanup_errors=True) as name:
        folder = Path(name)
        archive.check_room(settings.DATA_DIR)
        archive.unpack(folder)
        with engine.prepared(folder / manifest.database_member, manifest.migrations) as prepared:
            # again: others may have written since
            if going := _what_goes(replace):
                _say_what_goes(going, notify)
                notify(_back_up_what_goes(going, now))
            with swapping_files(manifest.members, folder):
                engine.put_in_place(prepared)


def _back_up_what_goes(going, now):
    """Back up what is replaced, beside the database, and say where."""
    backups_folder().mkdir(parents=True, exist_ok=True)
    if going is DAMAGED:
        folder = _free_name("damaged", now, "")
        engine_in_use().move_damaged(folder)
        return f"The damaged database was moved to {folder}."
    target = _free_name("before-restore", now, ".zip")
    make_backup(target, now=now)
    return f"A back-up of them was saved as {target}."


def _free_name(what, now, ending):
    names = (f"{what}-{now:%Y-%m-%d-%H%M%S}{more}{ending}" for more in chain([""], (f"-{n}" for n in count(2))))
    return next(path for path in map(backups_folder().joinpath, names) if not path.exists())


def _refuse_what_does_not_fit(archive):
    manifest = archive.manifest
    if manifest.database != connection.vendor:
        theirs, ours = NAMES[manifest.database], NAMES[connection.vendor]
        raise ValidationError(
            f"{archive.path} is a back-up of a pool kept in {theirs}; this one is kept in {ours}. Restore it where "
            f"DATABASE_URL names a {theirs} database, write that pool as files with export, and load them here. "
            "Nothing was restored."
        )
    unknown = unknown_migrations(manifest.migrations)
    if unknown:
        raise ValidationError(
            f"{archive.path} was made by a newer version of this app: it has {'.'.join(unknown[0])}, which is not "
            "known here. Update the app, then restore it. Nothing was restored."
        )


def _held(going):
    return "The pool's database is damaged." if going is DAMAGED else f"This pool has records: {_listed(going)}."


def _listed(going):
    return ", ".join(f"{count:,} {words if count > 1 else words.removesuffix('s')}" for words, count in going.items())
