"""Workbooks of the kind .xlsx and .xlsm: values by calamine, which runs no macros and follows no links."""

import datetime
import io
import posixpath

from .bounds import Bounds
from .grids import empty_grid, put, sheet_of
from .number_formats import Shows, shows
from .packages import damaged, without_cells
from .safe_xml import UnsafeXml, local_name, parse, xml_parser
from .sheet import CellKind
from .shown import NOT_CALCULATED, UNSHOWN, shown_day, shown_number, shown_text, shown_time, shown_yes_no
from .xlsx_scan import ScannedSheet, SharedLengths, Styles

FOLDER, BOOK, LINKS = "xl", "xl/workbook.xml", "xl/_rels/workbook.xml.rels"


def read_xlsx(package, content):
    """The sheets of a package. WorkbookRefused where it is damaged, more than is read, or without sheets."""
    package.count()
    try:
        parts = _parts_of_sheets(package)
        scanned = _scan(package, parts)
    except UnsafeXml as error:
        raise damaged(package.file) from error
    return _Reading(package.file, content).sheets(parts, scanned)


def _parts_of_sheets(package):
    """{name of a sheet: its part, in small letters}."""
    targets, parts = {}, {}

    def link(name, attributes):
        if local_name(name) == "Relationship":
            target = posixpath.join(FOLDER, attributes.get("Target", ""))
            targets[attributes.get("Id")] = posixpath.normpath(target).lstrip("/").lower()

    def sheet(name, attributes):
        if local_name(name) == "sheet":
            number = next((value for key, value in attributes.items() if local_name(key) == "id"), None)
            parts[attributes.get("name")] = targets.get(number)

    parse(xml_parser(link), package.part(LINKS))
    parse(xml_parser(sheet), package.part(BOOK))
    return parts


def _scan(package, parts):
    """{part: ScannedSheet} of every part that a reader could take for a sheet, whatever the workbook calls it."""
    bounds = Bounds(package.file)
    bounds.take_sheets(len(parts))
    marks = Styles(package.part("xl/styles.xml")).marks
    shared = SharedLengths(package.part("xl/sharedStrings.xml"))
    names, found = {part: name for name, part in parts.items()}, {}
    for part in package.names:
        content = package.part(part)
        if b"sheetData" in content:
            found[part] = ScannedSheet(names.get(part) or part, marks, shared, bounds)
            found[part].read(content)
    return found


class _Reading:
    """Values of one file by calamine, joined with what the scan found."""

    def __init__(self, file, content):
        self._file, self._content, self._known = file, content, {}

    def sheets(self, parts, scanned):
        # only a file that comes in needs it
        from python_calamine import CalamineWorkbook, SheetTypeEnum, SheetVisibleEnum

        book = self._calamine(CalamineWorkbook.from_filelike, io.BytesIO(self._content))
        described = [each for each in book.sheets_metadata if each.typ == SheetTypeEnum.WorkSheet]
        if not described:
            raise without_cells(self._file)
        return tuple(
            self._sheet(book, each.name, each.visible != SheetVisibleEnum.Visible, scanned.get(parts.get(each.name)))
            for each in described
        )

    def _sheet(self, book, name, hidden, scan):
        if scan is None:
            raise damaged(self._file)
        sheet = self._calamine(book.get_sheet_by_name, name)
        values = self._calamine(sheet.to_python, skip_empty_area=False)
        if len(values) > scan.rows or (values and len(values[0]) > scan.columns):
            raise damaged(self._file)
        texts, kinds = empty_grid(scan.rows, scan.columns)
        for row, cells in enumerate(values):
            shown = [self._shown(value) for value in cells]
            texts[row, : len(shown)] = [text for text, _ in shown]
            kinds[row, : len(shown)] = [kind for _, kind in shown]
        for (row, column), mark in scan.marks():
            if mark.format_code:
                put(texts, kinds, row, column, _shown_under(_value(values, row, column), mark.format_code))
            else:
                put(texts, kinds, row, column, (mark.error, CellKind.ERROR) if mark.error else NOT_CALCULATED)
        return sheet_of(name, hidden, texts, kinds, [(*first, *last) for first, last in sheet.merged_cell_ranges or ()])

    def _shown(self, value):
        """What a value shows in no format of its own. Most values of a sheet come more than once."""
        key = (type(value), value)
        shown = self._known.get(key)
        if shown is None:
            shown = self._known[key] = SHOWN[type(value)](value)
        return shown

    def _calamine(self, act, *arguments, **options):
        """What it raises of a damaged file is its own error, or a panic, which is no Exception."""
        try:
            return act(*arguments, **options)
        except BaseException as error:
            if isinstance(error, KeyboardInterrupt | SystemExit | MemoryError):
                raise
            raise damaged(self._file) from error


def _shown_of_clock(value):
    return shown_time(datetime.timedelta(hours=value.hour, minutes=value.minute, seconds=value.second))


SHOWN = {
    str: shown_text,
    float: shown_number,
    int: shown_number,
    bool: shown_yes_no,
    datetime.date: shown_day,
    datetime.datetime: shown_day,
    datetime.time: _shown_of_clock,
    datetime.timedelta: shown_time,
}


def _value(values, row, column):
    """Empty where the reader found nothing so far below or to the right."""
    return values[row][column] if row < len(values) and column < len(values[row]) else ""


def _shown_under(value, code):
    what = shows(code)
    if isinstance(value, datetime.date):
        return shown_day(value, what)
    if isinstance(value, datetime.time):
        # calamine takes a day at or before the first one for a time
        return _shown_of_clock(value) if what is Shows.TIME else UNSHOWN
    if isinstance(value, float | int) and not isinstance(value, bool):
        return shown_number(value, code)
    return SHOWN[type(value)](value)
