"""Workbooks that go out: texts are texts whatever they begin with, numbers are numbers, days are days."""

import datetime
import shutil
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

from .bounds import LAST_ROW, LONGEST_TEXT, cell_name
from .number_formats import ISO_DAY

# two workbooks of the same cells are the same bytes
MADE_ON = datetime.datetime(2000, 1, 1)
# days before are told from times by no reader
FIRST_DAY = datetime.date(1901, 1, 1)
LONGEST_LIST = 255
WIDTHS = (10, 60)


class Holds(Enum):
    """What the cells of a column are for whoever types in them."""

    TEXT = "text"
    NUMBER = "number"
    DAY = "day"


@dataclass(frozen=True)
class OutColumn:
    """`words`: those that the spreadsheet offers, where there are few."""

    heading: str
    holds: Holds = Holds.TEXT
    needed: bool = False
    words: tuple[str, ...] = ()
    width: int = 0


@dataclass(frozen=True)
class OutSheet:
    """Rows of str, int, float, Decimal, date or None, read once. `quiet_rows` of them at the start are in grey."""

    name: str
    columns: tuple[OutColumn, ...]
    rows: Iterable[tuple]
    quiet_rows: int = 0


class CellNotWritten(ValueError):
    """A sheet has no room for what stands in its text, a sentence for people."""


def write_workbook(stream, sheets):
    """Write sheets to a binary stream, one row at a time; returns {name of the sheet: number of rows}.

    CellNotWritten where there are more rows, or characters in a cell, than a sheet has room for.
    """
    # only who asks for a workbook needs it
    from xlsxwriter import Workbook
    from xlsxwriter.exceptions import FileCreateError

    # rows go to files until the end, so that few are kept in memory; whatever happens, none of these files stays
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "whole.xlsx"
        book = Workbook(path, {"constant_memory": True, "tmpdir": folder})
        try:
            counts = _write_sheets(book, sheets)
            book.close()
        except FileCreateError as error:
            raise error.__context__ or error from None
        finally:
            for page in book.worksheets():
                page.row_data_fh.close()
        with path.open("rb") as whole:
            shutil.copyfileobj(whole, stream)
    return counts


def _write_sheets(book, sheets):
    book.set_properties({"created": MADE_ON})
    formats = _Formats(book)
    return {sheet.name: _write_sheet(book, sheet, formats) for sheet in sheets}


class _Formats:
    """A text column keeps what is typed in it as it is: 004711 stays so."""

    CODES = {Holds.TEXT: "@", Holds.NUMBER: "General", Holds.DAY: ISO_DAY}

    def __init__(self, book):
        self.head = book.add_format({"num_format": "@", "bottom": 1})
        self.needed_head = book.add_format({"num_format": "@", "bottom": 1, "bold": True})
        looks = {"num_format": "", "valign": "top", "text_wrap": True}
        self.plain = {holds: book.add_format(looks | {"num_format": code}) for holds, code in self.CODES.items()}
        grey = looks | {"font_color": "#5a636d", "italic": True}
        self.quiet = {holds: book.add_format(grey | {"num_format": code}) for holds, code in self.CODES.items()}


def _write_sheet(book, sheet, formats):
    page = book.add_worksheet(sheet.name, worksheet_class=_plain_worksheet())
    for place, column in enumerate(sheet.columns):
        page.set_column(place, place, _width(column), formats.plain[column.holds])
        if column.words and len(",".join(column.words)) <= LONGEST_LIST:
            # a word that is not offered is taken, and judged when the workbook is read
            offer = {"validate": "list", "source": list(column.words), "error_type": "information"}
            page.data_validation(1, place, LAST_ROW - 1, place, offer)
    page.freeze_panes(1, 0)
    for place, column in enumerate(sheet.columns):
        page.write_string(0, place, column.heading, formats.needed_head if column.needed else formats.head)
    count = 0
    for count, values in enumerate(sheet.rows, 1):
        if count >= LAST_ROW:
            raise CellNotWritten(f"{sheet.name} has more rows than the {LAST_ROW:,} that a sheet has room for.")
        looks = formats.quiet if count <= sheet.quiet_rows else formats.plain
        for place, value in enumerate(values):
            if value is not None and value != "":
                _write_cell(page, sheet.name, count, place, value, looks)
    return count


def _width(column):
    return column.width or min(max(len(column.heading) + 2, WIDTHS[0]), WIDTHS[1])


def _write_cell(page, sheet, row, place, value, looks):
    if isinstance(value, str):
        if len(value) > LONGEST_TEXT:
            raise CellNotWritten(
                f"{sheet}, cell {cell_name(row, place)}: a text of {len(value):,} characters, more than the "
                f"{LONGEST_TEXT:,} that a cell has room for."
            )
        page.write_string(row, place, value, looks[Holds.TEXT])
    elif isinstance(value, datetime.date):
        if value < FIRST_DAY:
            page.write_string(row, place, value.isoformat(), looks[Holds.TEXT])
        else:
            page.write_datetime(row, place, value, looks[Holds.DAY])
    else:
        page.write_number(row, place, value, looks[Holds.NUMBER])


def _plain_worksheet():
    from xlsxwriter.worksheet import Worksheet

    class PlainWorksheet(Worksheet):
        """As its parent, which takes a text between <r> and </r> for marked-up text, and rounds to 16 digits."""

        def _xml_rich_inline_string(self, string, attributes):
            self._xml_inline_string(string, True, attributes)

        def _xml_number_element(self, number, attributes=()):
            marks = "".join(f' {key}="{value}"' for key, value in attributes)
            self.fh.write(f"<c{marks}><v>{_digits(number)}</v></c>")

    return PlainWorksheet


def _digits(number):
    """As few as give the same number again."""
    return repr(number) if isinstance(number, float) else str(number)
