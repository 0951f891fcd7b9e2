"""Which of the two kinds of database this pool is kept in.

Each has `dump`; `prepared` and `looked_into`, `rows_of` and `inside` what they yield; `watching` and `put_in_place`.
"""

from django.db import connection

from . import postgres, sqlite

NAMES = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}


def engine_in_use():
    return {"sqlite": sqlite, "postgresql": postgres}[connection.vendor]
