"""Make a pool's tables, or bring them to this version: wholly or not at all, wherever it is cut short."""

import sqlite3
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.db import connection, transaction

from ..data_folder import UPDATING
from .left_overs import clear_updates
from .sqlite import put_in_place
from .sqlite_schema import as_the_pool

# a start that was cut short leaves rows in these tables only
FILLED_BY_MIGRATIONS = ("django_", "sqlite_", "auth_permission", "auth_group", "fleet_pool")


def holds_no_records():
    """Whether nobody has ever entered anything, also in tables that a start left half made."""
    with connection.cursor() as cursor:
        tables = [t for t in connection.introspection.table_names(cursor) if not t.startswith(FILLED_BY_MIGRATIONS)]
        return not any(_has_rows(cursor, table) for table in tables)


def _has_rows(cursor, table):
    cursor.execute(f"SELECT 1 FROM {connection.ops.quote_name(table)} LIMIT 1")
    return cursor.fetchone() is not None


def update_tables(now):
    """Run the migrations that are missing. Whatever goes wrong, or ends the process, the pool is as it was."""
    if connection.vendor == "sqlite":
        _update_beside(now)
    else:
        with transaction.atomic(durable=True):
            _migrate()


def _migrate():
    call_command("migrate", verbosity=0, interactive=False)


def _update_beside(now):
    """SQLite makes many transactions of it, so it is done in a copy; tables without any records are made anew."""
    clear_updates(now)
    from_nothing = holds_no_records()
    connection.close()
    with (
        closing(sqlite3.connect(connection.settings_dict["NAME"])) as pool,
        TemporaryDirectory(prefix=UPDATING, dir=settings.DATA_DIR, ignore_cleanup_errors=True) as folder,
    ):
        draft = Path(folder, "pool.sqlite3")
        written = _data_version(pool)
        if not from_nothing:
            _copy(pool, draft)
        with as_the_pool(draft):
            _migrate()
        if _data_version(pool) != written:
            raise ValidationError(
                "Another program wrote to the pool while it was brought up to date, so it was left as it is. Stop "
                "that program, then start again."
            )
        put_in_place(draft)


def _data_version(pool):
    """A number that changes when another connection writes."""
    return pool.execute("PRAGMA data_version").fetchone()


def _copy(pool, draft):
    with closing(sqlite3.connect(draft)) as copy:
        pool.backup(copy)
