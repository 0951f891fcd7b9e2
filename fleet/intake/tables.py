"""The values of one file, checked cell by cell: each different text of a column is read once."""

import numpy as np
from django.core.exceptions import ValidationError
from django.db.models import Model

from ..models.fields import code_key
from . import kinds


class Table:
    """Values by column (None where there is none) and which of the rows are whole.

    `sound[column]` is False where the cell is wrong; `existing` is True where the database has the row already.
    """

    def __init__(self, layout, raw):
        self.layout, self.file = layout, layout.file
        self.lines, self.sha256, self.source, self.instead = raw.lines, raw.sha256, raw.source, raw.instead
        self.given = [column for column in layout.columns if column.name in raw.cells]
        self.values = {c.name: _filled(len(raw), c.default) for c in layout.columns}
        self.sound = {c.name: np.ones(len(raw), dtype=bool) for c in layout.columns}
        self.existing = np.zeros(len(raw), dtype=bool)
        # field values that no column holds, found while checking: {row: {field: value}}
        self.marks = {}

    def __len__(self):
        return len(self.lines)

    @property
    def whole(self):
        """Rows with no wrong cell."""
        return self._sound_in(self.sound)

    def _sound_in(self, names):
        return np.logical_and.reduce([self.sound[name] for name in names])

    @property
    def new(self):
        return self.whole & ~self.existing

    def rows(self, *names, where=None):
        """(row number, value, …) of rows with no wrong cell in these columns, or of those where the mask is True."""
        picked = np.flatnonzero(self._sound_in(names) if where is None else where)
        return zip(picked.tolist(), *(self.values[name][picked].tolist() for name in names), strict=True)

    def codes(self, name):
        """The different codes of a column, in the order of the file."""
        return [code for code in dict.fromkeys(self.values[name].tolist()) if code is not None]

    def keyed_rows(self, where=None):
        """(row number, key as a tuple) of rows."""
        return ((row, tuple(key)) for row, *key in self.rows(*(c.name for c in self.layout.key), where=where))

    def refuse(self, errors, row, column, found, expected):
        self.sound[column][row] = False
        errors.add(self.file, self.lines[row], column, found, expected)


def _filled(length, value):
    column = np.empty(length, dtype=object)
    column.fill(value)
    return column


def checked_table(layout, raw, on, errors):
    """The values of a raw table, with every wrong cell and every repeated key among the errors."""
    table = Table(layout, raw)
    for column in table.given:
        _read_column(table, column, raw, on, errors)
    _refuse_repeated_keys(table, errors)
    _refuse_unfit_rows(table, errors)
    return table


def _read_column(table, column, raw, on, errors):
    # a third of each start of the app, and only files need it
    from pandas import factorize

    codes, texts = factorize(raw.cells[column.name])
    values, refused = np.empty(len(texts), dtype=object), {}
    for number, text in enumerate(texts):
        try:
            values[number] = column.read(text, raw.decimal_comma, on)
        except ValidationError as error:
            refused[number] = " ".join(error.messages)
    table.values[column.name] = values[codes]
    for row in np.flatnonzero(np.isin(codes, list(refused))) if refused else ():
        found = texts[codes[row]]
        table.refuse(errors, row, column.name, f"“{found}”" if found else "an empty cell", refused[codes[row]])


def _refuse_repeated_keys(table, errors):
    names, spelled = [column.name for column in table.layout.key], _first_spellings(table)
    sound = table._sound_in(names)
    columns = [table.values[name][sound].tolist() for name in names]
    plain = list(zip(*(_respelled(column, spelled) for column in columns), strict=True))
    if len(set(plain)) == len(plain):
        return
    first = {}
    for (row, key), same in zip(list(table.keyed_rows()), plain, strict=True):
        if same in first:
            row_before, key_before = first[same]
            what = "the same" if key == key_before else f"{spoken(key_before)}, the same except for capital letters"
            expected = f"each {' and '.join(names)} once; line {table.lines[row_before]} has {what}"
            table.refuse(errors, row, names[0], spoken(key), expected)
        first.setdefault(same, (row, key))


def _respelled(column, spelled):
    return [spelled.get(part, part) for part in column] if spelled else column


def _first_spellings(table):
    """{code: how the file writes it before} of the codes in keys that the file writes in more ways than one."""
    spelled = {}
    for column in filter(lambda column: column.kind is kinds.CODE, table.layout.key):
        first = {}
        for code in table.codes(column.name):
            before = first.setdefault(code_key(code), code)
            if before != code:
                spelled[code] = before
    return spelled


def _refuse_unfit_rows(table, errors):
    """What the model says of a row as a whole, where it says anything."""
    model = table.layout.model
    if model.clean is Model.clean:
        return
    plain = [column for column in table.layout.columns if not column.related and not column.of_head]
    for row, *values in table.rows(*(column.name for column in plain)):
        instance = model(**{column.path: value for column, value in zip(plain, values, strict=True)})
        try:
            instance.clean()
        except ValidationError as error:
            for field, refusals in getattr(error, "error_dict", {"": [error]}).items():
                column = table.layout.column_of_field(field)
                found = column.write(table.values[column.name][row])
                table.refuse(errors, row, column.name, f"“{found}”", " ".join(ValidationError(refusals).messages))


def spoken(key):
    return ", ".join("none" if part is None else str(part) for part in key)
