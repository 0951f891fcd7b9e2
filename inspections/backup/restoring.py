"""Put a back-up in place of the pool: all checked and built beside it first, then swapped."""

import shutil
import sqlite3
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from itertools import chain, count
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection

from fleet.selectors.calendar_feeds import a_restore_ended_feeds
from fleet.selectors.log_links import a_restore_withdrew_links
from fleet.selectors.people import no_keeper_can_sign_in

from ..data_folder import BESIDE, KEPT, PHOTOS
from .accounts_back import told_who_came_back, ways_in
from .archive import opened
from .checks import NOTHING, WrittenMeanwhile
from .engines import NAMES, engine_in_use
from .existing_backups import backups_folder
from .files import (
    files_going,
    first_few,
    listed_files,
    missing_photos,
    refuse_what_is_in_the_way,
    swapping_files,
)
from .left_overs import clear_restores
from .making import backup_notices, make_backup
from .records import counted_records, listed_records, rows_in_use
from .schema import applied_migrations, unknown_migrations

ASK_FOR_REPLACE = f"{NOTHING} With --replace they are removed, after a back-up of them was saved."
LINKS_WITHDRAWN = "The links for phones in this back-up are withdrawn. Make a new one for each phone that needs it."
FEEDS_ENDED = "The secret addresses of the calendar in this back-up are ended. Whoever had one makes a new one."

WRITTEN_MEANWHILE = "Somebody wrote to the pool meanwhile, so a newer back-up is made in place of that one."
NOBODY = (
    "In this back-up nobody has an account, so nobody could sign in after it. Restore it on the computer that runs the "
    "app: python3 manage.py restore FILE --replace"
)
# how often a pool that others write to is copied anew
MOST_COPIES = 5

WHERE_PHOTOS_ARE = "A back-up that was made with the command backup holds photos; the daily copies do not."


@dataclass(frozen=True)
class Going:
    """What a restore removes: records, counted by kind (none of a damaged database), and files: {member name: path}."""

    records: dict
    files: dict
    damaged: bool

    def __bool__(self):
        return bool(self.records or self.files or self.damaged)


def restore_backup(path, *, replace, now, notify, needs_keeper=False):
    """Make the pool what it was when a back-up was made; an older one is brought up to date. One at a time.

    `notify` is called with sentences about what comes, what goes and where a back-up of it lies. Over a pool that has
    anything that goes only with `replace`, and with `needs_keeper` only what somebody can sign in to. Returns the
    back-up's manifest. ValidationError when it is refused or fails; the pool is then as it was.
    """
    with opened_to_restore(path) as archive:
        _restore(archive, replace, now, notify, needs_keeper)
        return archive.manifest


@contextmanager
def opened_to_restore(path):
    """The archive at a path, which fits this pool. ValidationError where it does not, or where what is done fails."""
    try:
        settings.DATA_DIR.mkdir(parents=True, exist_ok=True)
        with opened(Path(path).absolute()) as archive:
            _refuse_what_does_not_fit(archive)
            yield archive
    except OSError as error:
        raise ValidationError(f"{error.filename or settings.DATA_DIR} cannot be written: {error.strerror}.") from error
    except (DatabaseError, sqlite3.Error) as error:
        raise ValidationError(f"The database refused it: {error}. {NOTHING}") from error


def _restore(archive, replace, now, notify, needs_keeper):
    engine, manifest = engine_in_use(), archive.manifest
    damaged = engine.is_damaged(wholly_checked=True)
    if damaged:
        # there is nothing to compare with what comes
        what_goes(archive, damaged, replace)
    with (
        unpacked(archive, now) as folder,
        engine.prepared(folder / manifest.database_member, manifest.migrations) as prepared,
    ):
        if needs_keeper:
            _refuse_without_accounts(prepared)
        _say_what_comes(archive, engine.rows_of(prepared), notify)
        before = _swap(archive, folder, prepared, damaged, replace, now, notify)
    for sentence in told_who_came_back(before, ways_in()):
        notify(sentence)
    if a_restore_withdrew_links(now):
        notify(LINKS_WITHDRAWN)
    if a_restore_ended_feeds(now):
        notify(FEEDS_ENDED)
    if missing := missing_photos():
        notify(f"Faults name these photos, and they are not here: {first_few(missing)}. {WHERE_PHOTOS_ARE}")


def _refuse_without_accounts(prepared):
    with engine_in_use().inside(prepared):
        if no_keeper_can_sign_in():
            raise ValidationError(f"{NOBODY} {NOTHING}")


@contextmanager
def unpacked(archive, now, *, only_database=False):
    """The folder, beside the pool, that it is unpacked into. One at a time: what others left goes."""
    clear_restores(now)
    with TemporaryDirectory(prefix=BESIDE, dir=settings.DATA_DIR, ignore_cleanup_errors=True) as name:
        archive.check_room(settings.DATA_DIR)
        archive.unpack(Path(name), only_database=only_database)
        yield Path(name)


def _swap(archive, folder, prepared, damaged, replace, now, notify):
    """Save what goes and put what comes in its place; who could get in before. Nothing is written between the two."""
    engine = engine_in_use()
    for _ in range(MOST_COPIES):
        with nullcontext() if damaged else engine.watching() as is_written:
            saved = None
            if going := what_goes(archive, damaged, replace):
                _say_what_goes(going, notify)
                saved = _save_what_goes(going, now, notify)
            before = {} if damaged else ways_in()
            try:
                with swapping_files(archive.kept, folder, archive.manifest.leaving):
                    engine.put_in_place(prepared, *filter(None, [is_written]))
                return before
            except WrittenMeanwhile:
                _take_back(saved)
                notify(WRITTEN_MEANWHILE)
    raise WrittenMeanwhile


def _take_back(saved):
    """A back-up of what went, when it did not go."""
    if saved and saved.is_file():
        saved.unlink()


def _say_what_comes(archive, rows, notify):
    notify(f"The back-up holds these records: {listed_records(counted_records(rows)) or 'none'}.")
    if archive.kept:
        notify(f"It holds these files: {listed_files(archive.kept)}.")
    for sentence in lacking(archive):
        notify(sentence)


def lacking(archive):
    """Sentences on what of the archive is not restored, or not in it."""
    if archive.damaged_photos:
        yield f"These photos in it are damaged and are left out: {first_few(archive.damaged_photos)}."
    if PHOTOS in archive.manifest.leaving:
        yield "It was made without photos. Those that lie in the data folder stay there."
    if archive.left_out:
        yield f"These files in it are no part of a pool and are left out: {listed_files(archive.left_out)}."


def what_goes(archive, damaged, replace):
    """What the pool has that the back-up replaces; refused without `replace` where there is anything."""
    records = {} if damaged else counted_records(rows_in_use())
    going = Going(records, files_going(archive.kept, archive.manifest.leaving), damaged)
    if going and not replace:
        raise ValidationError(" ".join([*_held(going), ASK_FOR_REPLACE]))
    return going


def _held(going):
    if going.damaged:
        yield "The pool's database is damaged."
    if going.records:
        yield f"This pool has records: {listed_records(going.records)}."
    if going.files:
        yield f"This pool has files that the back-up does not hold: {listed_files(going.files)}."


def _say_what_goes(going, notify):
    if going.records:
        notify(f"These records are removed: {listed_records(going.records)}.")
    if going.files:
        notify(f"These files are removed: {listed_files(going.files)}.")


def _save_what_goes(going, now, notify):
    """Keep what is replaced, beside the database, and say where; the path."""
    backups_folder().mkdir(parents=True, exist_ok=True)
    if going.damaged:
        target = _free_name("damaged", now, "")
        engine_in_use().move_damaged(target)
        _copy_files(going.files, target)
        notify(f"The damaged database was moved to {target}.")
    elif not applied_migrations():
        target = _free_name("before-restore", now, "")
        _copy_files(going.files, target)
        notify(f"A copy of them was saved in {target}.")
    else:
        target = _free_name("before-restore", now, ".zip")
        make_backup(target, now=now)
        for notice in backup_notices(target):
            notify(notice)
        notify(f"A back-up of them was saved as {target}.")
    return target


def _copy_files(files, folder):
    for name, path in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(path, folder / name)


def _free_name(what, now, ending):
    names = (f"{what}-{now:%Y-%m-%d-%H%M%S}{more}{ending}" for more in chain([""], (f"-{n}" for n in count(2))))
    return next(path for path in map(backups_folder().joinpath, names) if not path.exists())


def _refuse_among_own_files(path):
    """The file that is restored from may not be one that goes, or is cleared."""
    place, data_dir = path.resolve(), settings.DATA_DIR.resolve()
    folders = place.relative_to(data_dir).parts[:-1] if data_dir in place.parents else ()
    if set(folders[:1]) & set(KEPT) or any(name.startswith(".") for name in folders):
        raise ValidationError(f"{path} lies among the pool's own files. Move it elsewhere, then restore. {NOTHING}")


def _refuse_what_does_not_fit(archive):
    manifest = archive.manifest
    _refuse_among_own_files(archive.path)
    refuse_what_is_in_the_way(archive.kept)
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
