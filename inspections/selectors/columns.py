"""Whole columns of a queryset as arrays, without a Python object for each row."""

import numpy as np
from django.core.exceptions import EmptyResultSet
from django.db import connections
from django.db.models import Case, IntegerField, Q, TextField, When
from django.db.models.functions import Cast

# rows are turned into columns so many at a time: a million row tuples alive at once would keep the collector busy
CHUNK = 2_000


def columns(queryset, *fields):
    """The named fields or expressions as one list of values each, in one query.

    Values come as the database driver gives them. Days and yes/no are asked for with `day()` and `yes()`: converting
    them one by one would take longer than everything that is done with them.
    """
    try:
        sql, params = queryset.order_by().values_list(*fields).query.sql_with_params()
    except EmptyResultSet:  # asked for none of the rows
        return [[] for _ in fields]
    read = [[] for _ in fields]
    with connections[queryset.db].cursor() as cursor:
        cursor.execute(sql, params)
        while rows := cursor.fetchmany(CHUNK):
            for column, values in zip(read, zip(*rows, strict=True), strict=True):
                column.extend(values)
    return read


def day(field):
    """A day as text, for `days`."""
    return Cast(field, TextField())


def yes(condition):
    """A yes/no field (by name), or whether a Q holds, as 1 or 0."""
    if isinstance(condition, Q):
        condition = Case(When(condition, then=1), default=0)
    return Cast(condition, IntegerField())


def days(values):
    """ISO days to `datetime64[D]`; None becomes NaT."""
    return np.array(values, dtype="datetime64[D]")


def floats(values):
    """Numbers to floats; None becomes NaN."""
    return np.array(values, dtype=float)


def integers(values):
    return np.array(values, dtype=np.int64)
