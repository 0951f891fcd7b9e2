"""Which of the two kinds of database this pool is kept in: each has `dump`, `prepared`, `rows_of`, `put_in_place`."""

from django.db import connection

from . import postgres, sqlite

NAMES = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}


def engine_in_use():
    return {"sqlite": sqlite, "postgresql": postgres}[connection.vendor]
