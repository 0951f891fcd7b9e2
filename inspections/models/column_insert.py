"""Rows given as arrays, one a column, written without a model object for each: ten times as fast."""

import numpy as np
from django.db import connections

from fleet.models.bulk_rows import CHUNK, write_rows

from ..numeric.calendar import day_words


def insert_columns(model, using, columns):
    """Insert rows of a model: attribute name to array, for all its columns; a scalar stands for all rows.

    Keys come as an array. Days are `datetime64[D]`. NaT, NaN and None are stored as NULL.
    """
    connection, fields = connections[using], model._meta.concrete_fields
    # SQLite's driver stores NaN as NULL, and looks for an adapter each time it meets None
    null = float("nan") if connection.vendor == "sqlite" else None
    length = len(columns[model._meta.pk.attname])
    ready = [np.broadcast_to(plain(columns[field.attname], null=null, spelt=True), length) for field in fields]
    write_rows(connection, model._meta.db_table, [field.column for field in fields], _rows(ready, length))


def _rows(ready, length):
    for start in range(0, length, CHUNK):
        yield from zip(*(column[start : start + CHUNK].tolist() for column in ready), strict=True)


def plain(column, *, null=None, spelt=False):
    """An array whose `tolist()` gives values for models or drivers: `null` for NaN, NaT and None.

    `spelt`: days as ISO texts, which is what drivers take.
    """
    column = np.asarray(column)
    if column.dtype.kind == "M":
        return np.where(np.isnat(column), null, day_words(column) if spelt else column.astype(object))
    if column.dtype.kind == "f":
        return column if null is not None else np.where(np.isnan(column), null, column.astype(object))
    if column.dtype.kind == "O":
        return np.where(column == None, null, column)  # noqa: E711 - element by element
    return column
