"""The rows of one sheet by what its columns mean; what a cell holds is read here, and listed where it cannot be."""

import re
from functools import cached_property

from django.core.exceptions import ValidationError

from fleet.limits import POSITION
from fleet.parsing.log_words import read_yes_no, says_nothing
from fleet.parsing.measures import read_measure
from fleet.parsing.whole_numbers import read_whole
from fleet.validators import CODE_LENGTH, check_code

from ...workbooks.sheet import CellKind
from .. import meanings as field
from ..columns.table_places import headings_of
from .making import Making
from .rows import as_middle, on_one_line
from .sheet_days import SheetDays

_POSITION = re.compile(r"(?:p|pos|position|nr|no|kabel|cable|k|c|#)?\.? ?#?(\d{1,3})\.?")
SHOWS_AN_ERROR = "a value: the cell shows an error"
ITS_POSITION = "its position in the mat: 1 is next to the feed end"


class SheetRows:
    """Rows of a sheet that hold anything. Cells that were merged downwards, or mended on the page, are as meant.

    A row of which `mended` has a text for no column (None) is left out.
    """

    def __init__(self, sheet, meaning, mended, making: Making):
        self.sheet, self.meaning, self.making, self.name = sheet, meaning, making, sheet.name
        self.rows_count, self.columns_count = sheet.texts.shape
        self._mended = {place[1:]: text for place, text in mended.items() if place[0] == sheet.name}
        self._above = _merged_downwards(sheet.merged)

    def __iter__(self):
        for number in self.meaning.rows:
            row = SheetRow(self, number)
            if number < self.rows_count and (number, None) not in self._mended and row.says_anything:
                yield row

    def _said_in(self, row, column):
        """The row whose cell tells it: the first of those merged, unless it was mended for itself."""
        return row if (row, column) in self._mended else self._above.get((row, column), row)

    @cached_property
    def first_columns(self):
        """{field: its first column}"""
        return {column.field: column.index for column in reversed(self.meaning.columns)}

    @cached_property
    def days(self):
        return SheetDays(self)

    def text(self, row, column):
        """A cell as it stands, or was mended."""
        row = self._said_in(row, column)
        if (row, column) in self._mended:
            return self._mended[row, column].strip()
        inside = row < self.rows_count and column < self.columns_count
        return self.sheet.texts[row, column].strip() if inside else ""

    def kind(self, row, column):
        """The CellKind; a text for what was mended."""
        row = self._said_in(row, column)
        return CellKind.TEXT if (row, column) in self._mended else CellKind(self.sheet.kinds[row, column])

    @cached_property
    def _headings(self):
        return headings_of(self.sheet, self.meaning.header_row)

    def heading(self, column):
        """As people read it, with what stands above several; "" where the sheet has none."""
        row = self.meaning.header_row
        return self.mended(row, column) or self._headings[column]

    def mended(self, row, column):
        """The text that somebody wrote in place of a cell; "" where nobody did."""
        return self._mended.get((row, column), "").strip()

    @property
    def head(self):
        """The row of a heading that is to be mended."""
        return self.meaning.header_row or 0

    def leave_unread(self, row, column, expected, cell=None, choices=()):
        cell = self.text(row, column) if cell is None else cell
        self.making.leave_unread(self.name, row, column, cell, expected, choices)


class SheetRow:
    """One row; a `field` is one of `meanings`."""

    def __init__(self, rows: SheetRows, number):
        self.rows, self.number, self.meaning = rows, number, rows.meaning

    @property
    def place(self):
        return self.rows.name, self.number

    @property
    def says_anything(self):
        return any(self.rows.text(self.number, column.index) for column in self.meaning.columns)

    def column(self, name):
        return self.rows.first_columns.get(name)

    def columns(self, **ours):
        """{column of ours: column of the sheet} of those fields that the sheet has."""
        found = {name: self.column(of_sheet) for name, of_sheet in ours.items()}
        return {name: column for name, column in found.items() if column is not None}

    def text(self, name):
        """The cell; "" where the sheet has no such column, or the cell says that nobody knows, or shows an error."""
        column = self.column(name)
        return "" if column is None else self.cell(column)

    def cell(self, column):
        text = self.rows.text(self.number, column)
        if text and self.rows.kind(self.number, column) == CellKind.ERROR:
            self.rows.leave_unread(self.number, column, SHOWS_AN_ERROR)
            return ""
        return "" if says_nothing(text) else text

    def is_unread(self, name):
        """Whether the cell was listed: what it should say is not known, and nothing else says it in its place."""
        return (*self.place, self.column(name)) in self.rows.making.unread

    def raw(self, name):
        """The cell as it stands; "" where the sheet has no such column."""
        column = self.column(name)
        return "" if column is None else self.rows.text(self.number, column)

    def unread(self, name, expected, choices=()):
        self.rows.leave_unread(self.number, self.column(name), expected, choices=choices)

    def lacks(self, name, expected, beside):
        """List an empty cell; where the sheet has no such column that of `beside`, else the first that it has."""
        found = (self.column(name), self.column(beside), self.meaning.columns[0].index)
        self.rows.leave_unread(self.number, next(column for column in found if column is not None), expected)

    def read(self, name, reader):
        """What `reader` makes of the cell; None where it is empty, or unread with what the ValueError says."""
        text = self.text(name)
        if not text:
            return None
        try:
            return reader(text)
        except ValueError as error:
            return self.unread(name, str(error))

    def day(self, name):
        """The ApproximateDate of the cell; None where there is none."""
        return self.read(name, self.rows.days.read)

    def past_day(self, name):
        """As `day`, of what cannot lie ahead."""
        found = self.day(name)
        if found is not None and found.first > self.rows.making.on:
            return self.unread(name, "a day that has passed")
        return found

    def middle(self, name, span, about, code):
        """The day to store of something that has no *about*; how it was given is kept as a note."""
        making, text = self.rows.making, self.text(name)
        day = span.middle(max(making.on, span.last) if span.first > making.on else making.on)
        if not span.exact:
            making.note(about, code, as_middle(field.FIELD_WORDS[name], text), self.place)
            making.roughly(name, text, span, day, code)
        return day

    def measure(self, name, unit, limit=None):
        """The number of a cell; `limit`: what it may be."""
        return self.read(name, lambda text: _checked(read_measure(text, unit), limit))

    def code(self, name):
        """The cell as the code of something; "" where it is empty, or none can be so."""
        return self.read(name, read_code) or ""

    def whole(self, name):
        return self.read(name, _whole)

    def position(self, name):
        return self.read(name, read_position)

    def ticked(self, name):
        return self.read(name, read_yes_no)

    @property
    def notes(self):
        """What the row says beside our columns: notes, and cells that are kept with their heading."""
        noted = [text for column in self.meaning.indexes_of(field.NOTE) if (text := self.cell(column))]
        for column in self.meaning.noted:
            if text := self.cell(column):
                heading = self.rows.heading(column)
                noted.append(f"{heading}: {text}" if heading else text)
        return noted


def read_position(text):
    """`3`, `P3`, `Pos. 3`; ValueError for what is no position."""
    found = _POSITION.fullmatch(" ".join(text.casefold().split()))
    if not found or not 1 <= int(found[1]) <= POSITION.absurd_above:
        raise ValueError("a position: 1 is next to the feed end")
    return int(found[1])


def _checked(number, limit):
    try:
        if limit:
            limit.check(number)
    except ValidationError as error:
        raise ValueError(" ".join(error.messages).removesuffix(".")) from error
    return number


def read_code(text):
    """A name or number by which something is known; ValueError, with what to write, for what can be none."""
    code = on_one_line(text)
    try:
        check_code(code)
    except ValidationError as error:
        raise ValueError(" ".join(error.messages).removesuffix(".")) from error
    if len(code) > CODE_LENGTH:
        raise ValueError(f"at most {CODE_LENGTH} characters")
    return code


def _whole(text):
    number = read_whole(text.removesuffix("x").removesuffix("×").strip())
    if number is None:
        raise ValueError("a whole number such as 4")
    return number


def _merged_downwards(merged):
    """{(row, column): first row} of cells that were merged with those above."""
    return {
        (row, first_column): first_row
        for first_row, first_column, last_row, last_column in merged
        for row in range(first_row + 1, last_row + 1)
        if last_row > first_row
    }
