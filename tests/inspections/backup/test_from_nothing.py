"""A new pool, made at once, is the pool that all migrations make one after another: tables and rows, to the last.

On PostgreSQL `test_old_backups.py` holds the tables of a new pool against those that migrations make.
"""

import sqlite3
from contextlib import closing

import pytest
from django.core.management import call_command
from django.core.management.commands import migrate as change_by_change
from django.db import connection

from inspections.backup.checks import differences
from inspections.backup.from_nothing import holds_no_tables
from inspections.backup.sqlite_schema import as_the_pool, description

pytestmark = pytest.mark.process  # on SQLite, whatever database is in use
# SQLite's own, and the mark that each pool has of its own
OWN = {"sqlite_sequence", "fleet_pool"}
WHEN = "applied"


@pytest.fixture
def empty(tmp_path):
    with as_the_pool(tmp_path / "pool.sqlite3"):
        yield tmp_path / "pool.sqlite3"


def made_by(migrate, path):
    """What a database holds: its tables described, and their rows."""
    call_command(migrate, verbosity=0)
    connection.close()
    with closing(sqlite3.connect(path)) as made:
        made.row_factory = sqlite3.Row
        tables = [name for (name,) in made.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
        rows = {table: [dict(row) for row in made.execute(f'SELECT * FROM "{table}"')] for table in tables}
        return description(made), {table: without_times(held) for table, held in rows.items() if table not in OWN}


def without_times(rows):
    return sorted(repr(sorted(item for item in row.items() if item[0] != WHEN)) for row in rows)


def test_made_at_once_it_is_what_the_migrations_make_one_after_another(empty, django_db_blocker, tmp_path):
    with django_db_blocker.unblock():
        at_once, rows = made_by("migrate", empty)
        with as_the_pool(tmp_path / "slow.sqlite3"):
            one_by_one, their_rows = made_by(change_by_change.Command(), tmp_path / "slow.sqlite3")
    assert differences(at_once, one_by_one) == []
    assert rows == their_rows
    assert rows["django_migrations"] and rows["auth_permission"]


def test_only_where_no_migration_was_begun(empty, django_db_blocker):
    with django_db_blocker.unblock():
        assert holds_no_tables()
        with closing(sqlite3.connect(empty)) as other, other:
            other.execute("CREATE TABLE of_another (id)")
        assert holds_no_tables()
        with closing(sqlite3.connect(empty)) as half_made, half_made:
            half_made.execute("CREATE TABLE fleet_mat (id)")
        assert not holds_no_tables()
