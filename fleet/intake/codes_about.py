"""Codes that name a row of the kind that another cell of their line says."""

import numpy as np

from ..models.fields import code_key
from .files import FILE_ABOUT
from .findings import same_but_capitals


def settle_codes_about(files, table):
    """Each such code as the rows of its kind are written; one that nobody has is among the errors."""
    for column in filter(lambda column: column.about, table.given):
        table.values[column.name] = table.values[column.name].copy()
        for word in dict.fromkeys(table.values[column.about][table.sound[column.about]].tolist()):
            if files.can_follow(FILE_ABOUT[word]):
                _settle(files, table, column, word)


def _settle(files, table, column, word):
    known = {code_key(code): code for code in sorted(files.codes(FILE_ABOUT[word]))}
    rows = (table.values[column.about] == word) & table.sound[column.about] & table.sound[column.name]
    for row in np.flatnonzero(rows).tolist():
        code = table.values[column.name][row]
        spelled = known.get(code_key(code))
        if spelled is None:
            expected = f"a code of {FILE_ABOUT[word]}, or one that is stored already"
            table.refuse(files.errors, row, column.name, f"“{code}”", expected)
        elif spelled != code:
            table.values[column.name][row] = spelled
            files.warnings.add(table.file, table.lines[row], column.name, f"“{code}”", same_but_capitals(spelled))
