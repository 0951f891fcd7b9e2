"""Sheets in memory, as `read_workbook` gives them, out of rows of Python values."""

from datetime import date

import numpy as np

from inspections.workbooks.sheet import CellKind, Sheet, Workbook

_KINDS = {str: CellKind.TEXT, bool: CellKind.YES_NO, int: CellKind.NUMBER, float: CellKind.NUMBER, date: CellKind.DAY}


def make_sheet(rows, name="Sheet1", *, hidden=False, merged=()):
    """A Sheet of these rows; None and "" are empty cells."""
    width = max((len(row) for row in rows), default=0)
    texts = np.full((len(rows), width), "", dtype=object)
    kinds = np.zeros((len(rows), width), dtype=np.uint8)
    for at, row in enumerate(rows):
        for column, value in enumerate(row):
            if value not in (None, ""):
                texts[at, column] = ("no", "yes")[value] if isinstance(value, bool) else str(value)
                kinds[at, column] = _KINDS[type(value)]
    return Sheet(name, hidden, texts, kinds, tuple(merged))


def make_workbook(*sheets, file="ours.xlsx"):
    return Workbook(tuple(sheets), "0" * 64, file)
