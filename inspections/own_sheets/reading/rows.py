"""Rows of our layouts as they are put together: each key once, cells as the texts of our CSV files."""

import re

import numpy as np
from django.core.exceptions import ValidationError

from fleet.intake import kinds
from fleet.intake.csv_files import RawTable
from fleet.models.fields import code_key
from fleet.validators import CODE_LENGTH, UNSEEN, check_code

from ...files.sets import LAYOUTS
from ..understood import Origin

_COLUMNS = {layout.file: {column.name: column for column in layout.columns} for layout in LAYOUTS}
_KEYS = {layout.file: [column.name for column in layout.key] for layout in LAYOUTS}
_NEEDED = {layout.file: [column.name for column in layout.columns if column.needed] for layout in LAYOUTS}
_UNSEEN_OR_BLANKS = re.compile(rf"{UNSEEN.pattern}|^\s|\s$|\s\s")
_OF_TEXT = (kinds.CODE, kinds.TEXT, kinds.LINES)


def on_one_line(text):
    """Without what no eye sees and no line holds: a cell of a sheet may have several lines."""
    return " ".join(UNSEEN.sub(" ", text).split()) if _UNSEEN_OR_BLANKS.search(text) else text


def as_middle(what, text):
    """The note that tells how a day was written of which the middle is stored."""
    return f"{what}: “{text}” in the sheet, so its middle"


def is_code(text):
    """Whether something may be known by this text as it stands."""
    try:
        check_code(text)
    except ValidationError:
        return False
    return len(text) <= CODE_LENGTH


class Rows:
    """Rows of all files, in the order in which they were added. Cells are texts, as `texts_of` makes them of values."""

    def __init__(self):
        self._rows, self._origins, self._judged, self._instead = {}, {}, {}, {}

    def texts_of(self, file, values):
        """{column: text} of values that say something; None and "" do not."""
        columns = _COLUMNS[file]
        return {name: text for name, value in values.items() if (text := _text(columns[name], value))}

    def refused(self, file, texts, on):
        """{column: what is expected} of texts that a file of ours may not hold."""
        found = {}
        for name, text in texts.items():
            key = file, name, text
            if key not in self._judged:
                self._judged[key] = _expected(_COLUMNS[file][name], text, on)
            if self._judged[key]:
                found[name] = self._judged[key]
        return found

    def lacks(self, file, texts, later=()):
        """Whether a row of these texts lacks its key, or is new and lacks what it needs."""
        there = self._rows.get(file, {}).get(_key(file, texts), {})
        return any(
            name not in texts and name not in later and (name in _KEYS[file] or name not in there)
            for name in _NEEDED[file]
        )

    def add(self, file, texts, place, columns):
        """Add a row, or what it says beyond the row of its key that is there.

        `place`: (sheet, row); `columns`: where in the sheet each stands. {column: text} of what is there otherwise.
        """
        key = _key(file, texts)
        row = self._rows.setdefault(file, {}).setdefault(key, {})
        origins = self._origins.setdefault(file, {})
        if key not in origins:
            origins[key] = Origin(*place, dict(columns))
        elif (origins[key].sheet, origins[key].row) == place:
            origins[key].columns.update(columns)
        others = {name: row[name] for name, text in texts.items() if row.get(name, text) != text}
        row.update({name: text for name, text in texts.items() if name not in row})
        return others

    def rows_of(self, file):
        """[(key, {column: text}, Origin)] of a file."""
        return [(key, row, self._origins[file][key]) for key, row in self._rows.get(file, {}).items()]

    def drop(self, file, key):
        del self._rows[file][key], self._origins[file][key]

    def take_place(self, file, key, of):
        """The row of this key takes the place of the stored one whose key is `of`; both as values."""
        self._instead.setdefault(file, {})[key] = of

    def has(self, file, **key):
        return _key(file, self.texts_of(file, key)) in self._rows.get(file, {})

    def tables(self, workbook):
        """{file: RawTable} in the order of the layouts, without columns that no row fills."""
        return {file: self._table(file, workbook) for file in _COLUMNS if self._rows.get(file)}

    @property
    def origins(self):
        """{file: [Origin of each row]}"""
        return {file: list(origins.values()) for file, origins in self._origins.items()}

    def _table(self, file, workbook):
        rows = self._rows[file].values()
        named = [name for name in _COLUMNS[file] if any(name in row for row in rows)]
        cells = {name: np.array([row.get(name, "") for row in rows], dtype=object) for name in named}
        lines, instead = np.arange(2, len(rows) + 2), self._instead.get(file, {})
        return RawTable(file, workbook.sha256, lines, cells, False, instead, workbook.file)


def _text(column, value):
    if value is None:
        return ""
    text = on_one_line(f"{value:.12g}" if isinstance(value, float) else str(value))
    return kinds.guarded(text) if column.kind in _OF_TEXT else text


def _key(file, texts):
    return tuple(code_key(texts.get(name, "")) for name in _KEYS[file])


def _expected(column, text, on):
    """What the column should hold in place of this text; "" where it may hold it."""
    try:
        column.read(text, False, on)
    except ValidationError as error:
        return " ".join(error.messages).removesuffix(".")
    return ""
