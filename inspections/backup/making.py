"""Make a back-up while the app is in use."""

import contextlib
import os
import sqlite3
from pathlib import Path
from tempfile import TemporaryDirectory

from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection

from ..durable_files import sync_folder
from ..storage_failures import DAMAGED, FULL, UNWRITABLE, storage_error_of
from .archive import DATABASES, Manifest, opened, write_archive
from .engines import engine_in_use
from .existing_backups import backups_folder
from .files import first_few, links_left_out, missing_photos, missing_sweeps, pool_files
from .left_overs import clear_drafts
from .newest import Backup, held_in, keep_note, on_the_pools_disk
from .records import held_now
from .schema import applied_migrations, is_of_this_version
from .sqlite import POOL_DAMAGED

ON_DISK = {
    FULL: "is full. Free some space on it",
    UNWRITABLE: "could not be written to. It may be full or failing. Check it",
}


def make_backup(target, *, now, leaving=()):
    """Write the whole pool to a new file, which appears whole or not at all; returns its size in bytes.

    `leaving`: folders that stay out of a copy beside the pool, because nothing in them is ever changed.

    The database is copied before the files: whatever a row of it names was there already. ValidationError when there
    is no pool, the file is there already, or it cannot be written.
    """
    target = Path(target).absolute()
    _refuse_target(target)
    try:
        clear_drafts(target.parent, now)
        migrations = applied_migrations()
        if not migrations:
            raise ValidationError("There is no pool here yet, so there is nothing to back up.")
        # counted first: what is written between the two is in the copy, though not in the count
        held = held_now().written() if is_of_this_version(migrations) else None
        made_at, left = now.isoformat(timespec="seconds"), list(leaving)
        _write_whole(target, Manifest(made_at, connection.vendor, migrations, held=held, leaving=left))
        return target.stat().st_size
    except (OSError, DatabaseError, sqlite3.Error) as error:
        raise _refusal(target, error) from error


def _refusal(target, error):
    failure = storage_error_of(error)
    if failure is DAMAGED:
        return ValidationError(POOL_DAMAGED, code="damaged")
    if failure in ON_DISK:
        said = f"The disk of {target.parent} {ON_DISK[failure]}, or name a file on another disk."
    elif isinstance(error, OSError):
        said = f"{target} cannot be written: {error.strerror}."
    else:
        said = f"The pool's database could not be copied to {target.parent}: {error}."
    return ValidationError(said)


def backup_notices(target):
    """Sentences on what lies among the pool's files and is not, or not whole, in the back-up that was just made."""
    links = [
        f"{link} is a link: what it leads to is in no back-up. Put the files themselves there."
        for link in links_left_out()
    ]
    return [*links, *_on_missing_photos(), *_on_missing_sweeps(), *_on_damaged_photos(target)]


def _on_missing_photos():
    """Tables of an older version know of no photos."""
    if is_of_this_version(applied_migrations()) and (missing := missing_photos()):
        yield f"These photos are missing, so they are not in it: {first_few(missing)}. An older back-up may have them."


def _on_missing_sweeps():
    """Of files whose bytes changed the page of the sweep says so; here it is said of those that are gone."""
    if is_of_this_version(applied_migrations()) and (missing := missing_sweeps()):
        names = first_few(missing)
        yield f"These sweep files are missing, so they are not in it: {names}. An older back-up may have them."


def _on_damaged_photos(target):
    with opened(target) as archive:
        if damaged := archive.damaged_photos:
            yield f"These photos are damaged: {first_few(damaged)}. An older back-up may have them whole."


def note_backup(target, on):
    """Remember a back-up that was made elsewhere, for the first page: by then its disk may be in a drawer."""
    target = Path(target).absolute()
    with contextlib.suppress(OSError):
        backups_folder().mkdir(parents=True, exist_ok=True)
        keep_note(Backup(on, target.parent, on_the_pools_disk(target.parent), held_in(target)))


def _refuse_target(target):
    if target.is_dir():
        raise ValidationError(f"{target} is a folder. Name a file in it, such as {target / 'pool.zip'}.")
    if os.path.lexists(target):
        raise ValidationError(f"{target} exists already. Name a new file, so that no back-up is lost.")
    if not target.parent.is_dir():
        raise ValidationError(f"There is no folder {target.parent}. Create it first, or connect the disk it is on.")


def _write_whole(target, manifest):
    with TemporaryDirectory(prefix=f".{target.name}.", dir=target.parent, ignore_cleanup_errors=True) as folder:
        dumped, draft = Path(folder, DATABASES[manifest.database]), Path(folder, target.name)
        engine_in_use().dump(dumped)
        write_archive(draft, manifest, [(manifest.database_member, dumped), *pool_files(manifest.leaving).items()])
        _put_in_place(draft, target)


def _put_in_place(draft, target):
    """Give the file its name, unless another has taken it meanwhile."""
    try:
        os.link(draft, target)
    except FileExistsError:
        _refuse_target(target)
    except OSError:
        # a disk on which a file has one name only, such as a stick
        target.touch(exist_ok=False)
        os.replace(draft, target)
    sync_folder(target.parent)
