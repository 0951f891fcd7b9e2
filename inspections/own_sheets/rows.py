"""Rows of our layouts as they are put together: each key once, cells as the texts of our CSV files."""

import numpy as np
from django.core.exceptions import ValidationError

from fleet.intake import kinds
from fleet.intake.csv_files import RawTable
from fleet.models.fields import code_key
from fleet.validators import UNSEEN

from ..files.sets import LAYOUTS
from .understood import Origin

_LAYOUTS = {layout.file: layout for layout in LAYOUTS}
_OF_TEXT = (kinds.CODE, kinds.TEXT, kinds.LINES)


def on_one_line(text):
    """Without what no eye sees and no line holds: a cell of a sheet may have several lines."""
    return " ".join(UNSEEN.sub(" ", text).split())


class Rows:
    """Rows of all files, in the order in which they were added."""

    def __init__(self):
        self._rows, self._origins, self._judged = {}, {}, {}

    def add(self, file, values, place, columns=None):
        """Add a row, or what it says beyond the row of its key that is there; the columns that say otherwise.

        `values`: {column of ours: value}; None and "" say nothing. `place`: (sheet, row); `columns`: where in the sheet
        each value stands.
        """
        texts = {name: text for name, value in values.items() if (text := self._text(file, name, value))}
        key = self._key(file, texts)
        row = self._rows.setdefault(file, {}).setdefault(key, {})
        origin = self._origins.setdefault(file, {}).setdefault(key, Origin(*place, dict(columns or {})))
        said = {name for name, text in texts.items() if row.get(name, text) != text}
        for name in texts.keys() - row.keys():
            row[name] = texts[name]
            if columns and name in columns and (origin.sheet, origin.row) == place:
                origin.columns[name] = columns[name]
        return said

    def refused(self, file, values, on):
        """{column: (text, what is expected)} of values that a file of ours may not hold."""
        found = {}
        for name, value in values.items():
            text = self._text(file, name, value)
            if text and (expected := self._expected(file, name, text, on)):
                found[name] = text, expected
        return found

    def _expected(self, file, name, text, on):
        """What the column should hold in place of this text; "" where it may hold it."""
        key = file, name, text
        if key not in self._judged:
            try:
                _LAYOUTS[file].column(name).read(text, False, on)
                self._judged[key] = ""
            except ValidationError as error:
                self._judged[key] = " ".join(error.messages).removesuffix(".")
        return self._judged[key]

    def lacks(self, file, values, later=()):
        """Whether a row of these values lacks its key, or is new and lacks what it needs."""
        texts = {name: self._text(file, name, value) for name, value in values.items()}
        there = self._rows.get(file, {}).get(self._key(file, texts), {})
        return any(
            column.needed and not texts.get(column.name) and (column.key or not there.get(column.name))
            for column in _LAYOUTS[file].columns
            if column.name not in later
        )

    def value(self, file, values, name):
        """What the row of this key says already."""
        texts = {key: self._text(file, key, value) for key, value in values.items()}
        return self._rows[file][self._key(file, texts)][name]

    def rows_of(self, file):
        """[(key, {column: text}, Origin)] of a file."""
        return [(key, row, self._origins[file][key]) for key, row in self._rows.get(file, {}).items()]

    def drop(self, file, key):
        del self._rows[file][key], self._origins[file][key]

    def place(self, file, **key):
        """(sheet, row) of the row of this key; None where there is none."""
        texts = {name: self._text(file, name, value) for name, value in key.items()}
        origin = self._origins.get(file, {}).get(self._key(file, texts))
        return origin and (origin.sheet, origin.row)

    def tables(self, sha256):
        """{file: RawTable} in the order of the layouts, without columns that no row fills."""
        return {file: self._table(file, sha256) for file in _LAYOUTS if self._rows.get(file)}

    @property
    def origins(self):
        """{file: [Origin of each row]}"""
        return {file: list(origins.values()) for file, origins in self._origins.items()}

    def _table(self, file, sha256):
        rows = self._rows[file].values()
        named = [name for name in _LAYOUTS[file].names if any(name in row for row in rows)]
        cells = {name: np.array([row.get(name, "") for row in rows], dtype=object) for name in named}
        return RawTable(file, sha256, np.arange(2, len(rows) + 2), cells, False)

    @staticmethod
    def _text(file, name, value):
        if value is None:
            return ""
        text = on_one_line(f"{value:.12g}" if isinstance(value, float) else str(value))
        return kinds.guarded(text) if _LAYOUTS[file].column(name).kind in _OF_TEXT else text

    @staticmethod
    def _key(file, texts):
        return tuple(code_key(texts.get(column.name, "")) for column in _LAYOUTS[file].key)
