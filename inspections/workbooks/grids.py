"""Cells put into the arrays of a sheet."""

import numpy as np

from .sheet import CellKind, Sheet


def empty_grid(rows, columns):
    """(texts, kinds) of a sheet of that size in which nothing stands."""
    texts = np.empty((rows, columns), dtype=object)
    texts.fill("")
    return texts, np.zeros((rows, columns), dtype=np.uint8)


def put(texts, kinds, row, column, shown):
    """Put what a cell shows, a pair of text and kind, into its place."""
    texts[row, column], kinds[row, column] = shown


def sheet_of(name, hidden, texts, kinds, merged=()):
    """The sheet up to the last row and column that hold something."""
    filled = kinds != CellKind.EMPTY
    rows, columns = _last(filled.any(axis=1)), _last(filled.any(axis=0))
    within = tuple(sorted(_within(merged, rows, columns)))
    return Sheet(name, hidden, texts[:rows, :columns], kinds[:rows, :columns], within)


def _last(filled):
    places = np.flatnonzero(filled)
    return int(places[-1]) + 1 if len(places) else 0


def _within(merged, rows, columns):
    """What of the merged cells lies in the sheet, where that is more than one cell."""
    for first_row, first_column, last_row, last_column in merged:
        last_row, last_column = min(last_row, rows - 1), min(last_column, columns - 1)
        if (
            first_row <= last_row
            and first_column <= last_column
            and (first_row, first_column) < (last_row, last_column)
        ):
            yield first_row, first_column, last_row, last_column
