"""Whole columns of a queryset as arrays, without a Python object for each row."""

import numpy as np
from django.core.exceptions import EmptyResultSet
from django.db import connections
from django.db.models import IntegerField, TextField
from django.db.models.functions import Cast


def columns(queryset, *fields):
    """The named fields or expressions as one tuple of values each, in one query.

    Values come as the database driver gives them. Days and yes/no are asked for with `day()` and `yes()`: converting
    them one by one would take longer than everything that is done with them.
    """
    try:
        sql, params = queryset.order_by().values_list(*fields).query.sql_with_params()
    except EmptyResultSet:  # asked for none of the rows
        return [()] * len(fields)
    with connections[queryset.db].cursor() as cursor:
        cursor.execute(sql, params)
        rows = cursor.fetchall()
    return list(zip(*rows, strict=True)) if rows else [()] * len(fields)


def day(field):
    """A day as text, for `days`."""
    return Cast(field, TextField())


def yes(field):
    """A yes/no as 1 or 0."""
    return Cast(field, IntegerField())


def days(values):
    """ISO days to `datetime64[D]`; None becomes NaT."""
    return np.array(values, dtype="datetime64[D]")


def floats(values):
    """Numbers to floats; None becomes NaN."""
    return np.array(values, dtype=float)


def integers(values):
    return np.array(values, dtype=np.int64)
