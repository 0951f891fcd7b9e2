"""The database of a pool on SQLite: copied and put back by SQLite's own online backup, while others use it."""

import sqlite3
import time
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from django.core.exceptions import ValidationError
from django.db import connection

from ..storage_failures import DAMAGED, storage_error_of
from .checks import NOTHING, WrittenMeanwhile, refuse_other_tables, refuse_unknown_version, refuse_without_keeper
from .records import rows_in_use
from .schema import bring_up_to_date
from .sqlite_schema import as_the_pool, description, expected_description

PATIENCE_S = 60
# copied at once: after the first, others are locked out and not yet overwritten; no pool is as small as that
PAGES = 16
POOL_DAMAGED = (
    "The pool's database is damaged, so no back-up of it was made. Stop the app and start it again. It then says how "
    "to restore the newest good copy."
)
# a start waits for this: a tenth of a second at most, where the whole check of ten times as much takes ten seconds
CHECKED_WHOLE_BYTES = 32 << 20


def dump(target):
    """Write one moment of the pool's database to a new file; writers go on meanwhile.

    A damaged database is refused: back-ups of it would replace the good ones.
    """
    connection.ensure_connection()
    with closing(sqlite3.connect(target)) as copy:
        connection.connection.backup(copy, progress=_Patience())
        copy.execute("PRAGMA journal_mode=DELETE")
        _refuse_damaged(copy, POOL_DAMAGED)


@contextmanager
def prepared(dumped, migrations):
    """What `put_in_place` takes: the database of a back-up, checked and brought up to date beside the pool's own.

    It is then, to the last table and index, one that this version makes; what it holds fits together.
    """
    with closing(sqlite3.connect(dumped)) as copy:
        _refuse_damaged(copy, f"The database in this back-up is damaged. {NOTHING}")
        _refuse_own_programs(copy)
    with as_the_pool(dumped):
        refuse_unknown_version()
        bring_up_to_date()
        refuse_without_keeper()
    with closing(sqlite3.connect(dumped)) as copy:
        _refuse_other_tables(description(copy))
        _refuse_dangling(copy)
    yield dumped


# it is built beside the pool, and nobody is kept waiting by it
looked_into = prepared
inside = as_the_pool


def rows_of(prepared):
    """{table: how many rows} of a database out of a back-up."""
    with inside(prepared):
        return rows_in_use()


@contextmanager
def watching():
    """A function that says whether anything was written to the pool since, by another connection of any process."""
    path = Path(connection.settings_dict["NAME"])
    with closing(sqlite3.connect(path if path.exists() else ":memory:")) as watch:
        before = _data_version(watch)
        yield lambda: _data_version(watch) != before


def put_in_place(prepared, is_written=lambda: False):
    """Replace all that the pool's database holds in one transaction, which those who have it open then see.

    WrittenMeanwhile, and nothing is replaced, where `is_written` once all others are locked out.
    """
    connection.close()
    connection.ensure_connection()
    with closing(sqlite3.connect(prepared)) as source:
        source.backup(connection.connection, pages=PAGES, progress=_Patience(is_written))
    connection.close()


def is_damaged(*, wholly_checked=False):
    """Whether the pool's own database is damaged. Of a large one, the indexes are left to the daily copy.

    Not so where a back-up of it is to be made, which a damaged index would stop.
    """
    path = Path(connection.settings_dict["NAME"])
    if not path.exists():
        return False
    wholly_checked = wholly_checked or path.stat().st_size < CHECKED_WHOLE_BYTES
    with closing(sqlite3.connect(path)) as live:
        return not is_sound(live, "integrity_check" if wholly_checked else "quick_check")


def move_damaged(folder):
    """Move a damaged database, with the files beside it, into a new folder."""
    connection.close()
    folder.mkdir()
    path = Path(connection.settings_dict["NAME"])
    for part in (path, *(path.with_name(path.name + end) for end in ("-wal", "-shm", "-journal"))):
        if part.exists():
            part.replace(folder / part.name)


def _data_version(watch):
    """A number that changes when another connection writes."""
    return watch.execute("PRAGMA data_version").fetchone()


def _refuse_other_tables(found):
    """A pool of this version has the tables that it makes, nearly always: to make them anew takes most of a second."""
    if found != _description_of_the_pool():
        refuse_other_tables(found, expected_description())


def _description_of_the_pool():
    """None of one that is damaged, or not there yet."""
    path = Path(connection.settings_dict["NAME"])
    if not path.exists():
        return None
    with closing(sqlite3.connect(path)) as live, suppress(sqlite3.DatabaseError):
        return description(live)


def _refuse_damaged(copy, sentence):
    if not is_sound(copy):
        raise ValidationError(sentence, code="damaged")


def is_sound(database, check="integrity_check"):
    """Whether its pages are in order and each index holds what its table holds, which `quick_check` leaves out."""
    try:
        return database.execute(f"PRAGMA {check}(1)").fetchone() == ("ok",)
    except sqlite3.DatabaseError as error:
        if storage_error_of(error) is not DAMAGED:
            raise
        return False


def _refuse_own_programs(copy):
    """Triggers and views of somebody else's would run while the back-up is brought up to date; the app has none."""
    own = "SELECT type, name FROM sqlite_master WHERE type IN ('trigger', 'view') ORDER BY name"
    if found := copy.execute(own).fetchone():
        kind, name = found
        raise ValidationError(
            f"The database in this back-up is not as this app makes it. It has the {kind} {name}, which this app does "
            f"not make. {NOTHING}"
        )


def _refuse_dangling(copy):
    """A row that names another which is not there."""
    if found := copy.execute("PRAGMA foreign_key_check").fetchone():
        table, row, to, _ = found
        raise ValidationError(
            f"The records in this back-up do not fit together: row {row} of {table} names a row of {to} that is not "
            f"there. {NOTHING}"
        )


class _Patience:
    """Ends a backup that waits for a lock; without it SQLite's wait has no end. So it does where `is_written`."""

    def __init__(self, is_written=lambda: False):
        self.until, self._is_written = time.monotonic() + PATIENCE_S, is_written

    def __call__(self, status, remaining, total):
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            if time.monotonic() > self.until:
                raise ValidationError("The database is in use. Stop the app and try again.")
        elif remaining + PAGES >= total and self._is_written():
            raise WrittenMeanwhile
