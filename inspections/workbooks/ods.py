"""Workbooks of the kind .ods (OpenDocument 1.3): each cell keeps its value and the text that it shows."""

import datetime
import re
from bisect import bisect_right

from .bounds import LONGEST_TEXT, Bounds
from .grids import empty_grid, sheet_of
from .number_formats import Shows
from .ods_styles import TABLE, Styles
from .packages import damaged, has_password
from .safe_xml import UnsafeXml, parse, xml_parser
from .sheet import CellKind
from .shown import EMPTY, NOT_CALCULATED, UNSHOWN, shown_day, shown_number, shown_text, shown_time, shown_yes_no

_ODF = "urn:oasis:names:tc:opendocument:xmlns:"
OFFICE, TEXT = f"{_ODF}office:1.0 ", f"{_ODF}text:1.0 "
VALUE_TYPE = f"{OFFICE}value-type"
ERROR_TYPE = "urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0 value-type"
# what stands in them is not shown in a cell: deleted cells, comments, drawings
ASIDE = {f"{TABLE}tracked-changes", f"{TABLE}shapes", f"{OFFICE}annotation"}
CELLS = {f"{TABLE}table-cell", f"{TABLE}covered-table-cell"}
DURATION = re.compile(r"(-?)P(?:(\d{1,6})D)?T?(?:(\d{1,6})H)?(?:(\d{1,6})M)?(?:(\d{1,6})(?:[.,]\d*)?S)?")
MOST_REPEATS = 10_000_000


def read_ods(package):
    """The sheets of a package. WorkbookRefused where it is damaged, has a password, or is more than is read."""
    package.count()
    if b"encryption-data" in package.part("META-INF/manifest.xml"):
        raise has_password(package.file)
    content = package.part("content.xml")
    try:
        styles = Styles(package.part("styles.xml"), content)
        reading = _Reading(package.file, styles)
        reading.read(content)
    except UnsafeXml as error:
        raise damaged(package.file) from error
    if not reading.sheets:
        raise damaged(package.file)
    return tuple(reading.sheets)


class _Reading:
    """Reads content.xml an element at a time; cells that are repeated stay one until the whole sheet is known."""

    def __init__(self, file, styles):
        self.sheets, self._styles, self._bounds = [], styles, Bounds(file)
        self._aside, self._table, self._cell, self._paragraphs, self._open = 0, None, None, [], 0
        self._starts = {
            f"{TABLE}table": self._start_table,
            f"{TABLE}table-column": self._start_column,
            f"{TABLE}table-row": self._start_row,
            f"{TEXT}p": self._start_paragraph,
            f"{TEXT}s": lambda attributes: self._add(" " * min(repeats(attributes, f"{TEXT}c"), LONGEST_TEXT + 1)),
            f"{TEXT}tab": lambda attributes: self._add("\t"),
            f"{TEXT}line-break": lambda attributes: self._add("\n"),
            **dict.fromkeys(CELLS, self._start_cell),
        }
        self._ends = {f"{TABLE}table": self._end_table, f"{TABLE}table-row": self._end_row}
        self._ends |= {f"{TABLE}table-cell": self._end_cell, f"{TABLE}covered-table-cell": self._end_covered}
        self._ends |= {f"{TEXT}p": self._end_paragraph}

    def read(self, content):
        parser = xml_parser(self._start, self._end, namespaces=True)
        parser.CharacterDataHandler = self._add
        parse(parser, content)

    def _start(self, name, attributes):
        if self._aside or name in ASIDE or (self._cell is not None and name == f"{TABLE}table"):
            self._aside += 1
        elif handler := self._starts.get(name):
            handler(attributes)

    def _end(self, name):
        if self._aside:
            self._aside -= 1
        elif handler := self._ends.get(name):
            handler()

    def _add(self, characters):
        if self._open and not self._aside:
            self._paragraphs[-1].append(characters)

    def _start_table(self, attributes):
        self._bounds.take_sheets(len(self.sheets) + 1)
        name, hidden = attributes.get(f"{TABLE}name", ""), attributes.get(f"{TABLE}style-name") in self._styles.hidden
        self._table = _Table(name, hidden)

    def _start_column(self, attributes):
        style = attributes.get(f"{TABLE}default-cell-style-name")
        self._table.add_columns(repeats(attributes, f"{TABLE}number-columns-repeated"), style)

    def _start_row(self, attributes):
        self._row_repeats = repeats(attributes, f"{TABLE}number-rows-repeated")
        self._row_style = attributes.get(f"{TABLE}default-cell-style-name")
        self._column = 0

    def _start_cell(self, attributes):
        self._cell, self._paragraphs, self._open = attributes, [], 0

    def _start_paragraph(self, attributes):
        if self._cell is not None:
            self._paragraphs.append([])
            self._open += 1

    def _end_paragraph(self):
        self._open = max(self._open - 1, 0)

    def _end_covered(self):
        self._column += repeats(self._cell, f"{TABLE}number-columns-repeated")
        self._cell = None

    def _end_cell(self):
        cell, times = self._cell, repeats(self._cell, f"{TABLE}number-columns-repeated")
        text = "\n".join("".join(pieces) for pieces in self._paragraphs)
        shown = _shown(cell, text, self._styles.shows(self._style_of(cell)))
        if shown != EMPTY:
            self._bounds.take_text(self._table.name, self._table.row, self._column, len(shown[0]))
            self._table.put(self._column, self._row_repeats, times, shown)
        self._table.merge(self._column, cell)
        self._column += times
        self._cell = None

    def _style_of(self, cell):
        return cell.get(f"{TABLE}style-name") or self._row_style or self._table.column_style(self._column)

    def _end_row(self):
        self._table.row += self._row_repeats

    def _end_table(self):
        self.sheets.append(self._table.sheet(self._bounds))
        self._table = None


class _Table:
    """The cells of one sheet as they come, each with how often it is repeated down and across."""

    def __init__(self, name, hidden):
        self.name, self.hidden, self.row = name, hidden, 0
        self._cells, self._merged, self._rows, self._columns = [], [], 0, 0
        self._ends, self._styles = [0], []

    def add_columns(self, times, style):
        self._ends.append(self._ends[-1] + times)
        self._styles.append(style)

    def column_style(self, column):
        """The style of cells that name none."""
        place = bisect_right(self._ends, column) - 1
        return self._styles[place] if place < len(self._styles) else None

    def put(self, column, down, across, shown):
        self._cells.append((self.row, column, down, across, shown))
        self._rows, self._columns = max(self._rows, self.row + down), max(self._columns, column + across)

    def merge(self, column, cell):
        down, across = (repeats(cell, f"{TABLE}number-{each}-spanned") for each in ("rows", "columns"))
        if down > 1 or across > 1:
            self._merged.append((self.row, column, self.row + down - 1, column + across - 1))

    def sheet(self, bounds):
        bounds.take_cells(self.name, self._rows, self._columns)
        texts, kinds = empty_grid(self._rows, self._columns)
        for row, column, down, across, (text, kind) in self._cells:
            texts[row : row + down, column : column + across] = text
            kinds[row : row + down, column : column + across] = kind
        return sheet_of(self.name, self.hidden, texts, kinds, self._merged)


def repeats(attributes, name):
    """How often something is repeated; UnsafeXml where that is no number, or more than any sheet has of anything."""
    text = attributes.get(name, "1")
    if not text.isascii() or not text.isdecimal() or not len(text) < 9 or int(text) > MOST_REPEATS:
        raise UnsafeXml("a number of repeats that no sheet has")
    return max(int(text), 1)


def _shown(cell, text, what):
    kind = cell.get(VALUE_TYPE, "")
    if cell.get(ERROR_TYPE) == "error":
        return text or "#N/A", CellKind.ERROR
    if kind in ("float", "percentage", "currency"):
        return _shown_number(cell.get(f"{OFFICE}value", ""), text, what)
    if kind == "date":
        return _shown_day(cell.get(f"{OFFICE}date-value", ""), text, what)
    if kind == "time":
        return _shown_time(cell.get(f"{OFFICE}time-value", ""))
    if kind == "boolean":
        return shown_yes_no(cell.get(f"{OFFICE}boolean-value") == "true")
    if f"{TABLE}formula" in cell and not kind and not text:
        return NOT_CALCULATED
    return shown_text(text or cell.get(f"{OFFICE}string-value", ""))


def _shown_number(value, text, what):
    if what is Shows.CODE and text.strip():
        return shown_text(text)
    try:
        return shown_number(float(value))
    except ValueError:
        return UNSHOWN


def _shown_day(value, text, what):
    if what is Shows.CODE and text.strip():
        return shown_text(text)
    try:
        moment = datetime.datetime.fromisoformat(value)
    except ValueError:
        # before year 1 or after 9999, or no day at all
        return UNSHOWN
    return shown_day(moment.replace(tzinfo=None), what or Shows.DAY_AND_TIME)


def _shown_time(value):
    match = DURATION.fullmatch(value)
    if not match:
        return UNSHOWN
    days, hours, minutes, seconds = (int(part or 0) for part in match.groups()[1:])
    duration = datetime.timedelta(days=days, hours=hours, minutes=minutes, seconds=seconds)
    return shown_time(-duration if match[1] else duration)
