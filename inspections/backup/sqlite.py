"""The database of a pool on SQLite: copied and put back by SQLite's own online backup, while others use it."""

import sqlite3
import time
from contextlib import closing, contextmanager
from copy import deepcopy
from pathlib import Path

from django.core.exceptions import ValidationError
from django.db import DEFAULT_DB_ALIAS, connection, connections

from .schema import bring_up_to_date

PATIENCE_S = 60


def dump(target):
    """Write one moment of the pool's database to a new file; writers go on meanwhile.

    A damaged database is refused: back-ups of it would replace the good ones.
    """
    connection.ensure_connection()
    with closing(sqlite3.connect(target)) as copy:
        connection.connection.backup(copy, progress=_Patience())
        copy.execute("PRAGMA journal_mode=DELETE")
        _refuse_damaged(
            copy, "The pool's database is damaged, so no back-up of it was made. Restore the newest good copy."
        )


@contextmanager
def prepared(dumped, migrations):
    """What `put_in_place` takes: the database of a back-up, checked and brought up to date beside the pool's own."""
    with closing(sqlite3.connect(dumped)) as copy:
        _refuse_damaged(copy, "The database in this back-up is damaged. Nothing was restored.")
    with _as_the_pool(dumped):
        bring_up_to_date()
    yield dumped


def put_in_place(prepared):
    """Replace all that the pool's database holds in one transaction, which those who have it open then see."""
    connection.close()
    connection.ensure_connection()
    with closing(sqlite3.connect(prepared)) as source:
        source.backup(connection.connection, progress=_Patience())
    connection.close()


def is_damaged():
    """Whether the pool's own database cannot be read."""
    connection.close()
    path = Path(connection.settings_dict["NAME"])
    if not path.exists():
        return False
    with closing(sqlite3.connect(path)) as live:
        return not _is_sound(live)


def move_damaged(folder):
    """Move a damaged database, with the files beside it, into a new folder."""
    connection.close()
    folder.mkdir()
    path = Path(connection.settings_dict["NAME"])
    for part in (path, *(path.with_name(path.name + end) for end in ("-wal", "-shm", "-journal"))):
        if part.exists():
            part.replace(folder / part.name)


def _refuse_damaged(copy, sentence):
    if not _is_sound(copy):
        raise ValidationError(sentence)


def _is_sound(database):
    try:
        return database.execute("PRAGMA quick_check(1)").fetchone() == ("ok",)
    except sqlite3.DatabaseError as error:
        if error.sqlite_errorcode & 0xFF in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            return False
        raise


@contextmanager
def _as_the_pool(path):
    """Let this thread's work go to another database file: under its own name, which migrations may take for granted."""
    own = connections[DEFAULT_DB_ALIAS]
    other = type(own)(deepcopy(own.settings_dict) | {"NAME": path}, DEFAULT_DB_ALIAS)
    connections[DEFAULT_DB_ALIAS] = other
    try:
        yield
    finally:
        other.close()
        connections[DEFAULT_DB_ALIAS] = own


class _Patience:
    """Ends a backup that waits for a lock; without it SQLite's wait has no end."""

    def __init__(self):
        self.until = time.monotonic() + PATIENCE_S

    def __call__(self, status, remaining, total):
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) and time.monotonic() > self.until:
            raise ValidationError("The database is in use. Stop the app and try again.")
