"""A damaged database of SQLite: what is told, which copy is good, and that nothing more is written into it."""

import sqlite3
from contextlib import closing
from pathlib import Path
from shlex import quote
from tempfile import TemporaryDirectory

from django.core.exceptions import ValidationError
from django.db import connection
from django.utils import timezone

from .archive import opened
from .engines import engine_in_use
from .existing_backups import backups_folder
from .sqlite import is_sound

_met = {"damage": False}


def note_damage():
    """Something met damage in this process, or says that it did."""
    _met["damage"] = True


def is_known_damaged():
    """Whether damage was met and is still there: what is entered now would be lost when a copy is restored."""
    _met["damage"] = _met["damage"] and engine_in_use().is_damaged()
    return _met["damage"]


def damage_told():
    """Sentences for whoever starts the app: what is damaged, and which command puts the newest good copy in place."""
    found = newest_good_backup()
    damaged = f"The database {connection.settings_dict['NAME']} is damaged."
    if found is None:
        return (
            f"{damaged} There is no good copy of it in {backups_folder()}. Save what can still be read, as files:"
            f"{_command('export FOLDER')}Then restore a back-up that you keep elsewhere:"
            f"{_command('restore FILE --replace')}"
        )
    path, made = found
    return (
        f"{damaged} The newest good copy is of {made:%d %B %Y at %H:%M}. If you entered anything since, save what can "
        f"still be read, as files:{_command('export FOLDER')}Then restore the copy:"
        f"{_command(f'restore {quote(str(path))} --replace')}"
    )


def loss_told(path, made):
    """Sentences for whoever starts the app beside copies of a pool that is not there."""
    return (
        f"The database {connection.settings_dict['NAME']} is gone or empty, but copies of a pool lie beside it. To put "
        f"back the newest good one, of {made:%d %B %Y at %H:%M}:{_command(f'restore {quote(str(path))}')}"
        f"To begin a new pool instead, move {backups_folder()} elsewhere first."
    )


def _command(words):
    """On a line of its own, so that it can be copied."""
    return f"\n  python3 manage.py {words}\n"


def newest_good_backup():
    """(path, when it was made) of the newest back-up beside the database that can be restored; None without one.

    Of pools kept in SQLite alone.
    """
    found = [(made, path) for path in backups_folder().glob("*.zip") if (made := _made(path))]
    return next(((path, made) for made, path in sorted(found, reverse=True) if _is_good(path)), None)


def _made(path):
    try:
        with opened(path) as archive:
            return timezone.localtime(archive.manifest.made) if archive.manifest.database == "sqlite" else None
    except ValidationError:
        return None


def _is_good(path):
    with opened(path) as archive, TemporaryDirectory() as folder:
        try:
            archive.unpack(Path(folder))
        except ValidationError:
            return False
        with closing(sqlite3.connect(Path(folder, archive.manifest.database_member))) as copy:
            return is_sound(copy)
