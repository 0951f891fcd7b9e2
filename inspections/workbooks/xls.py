"""Workbooks of the kind .xls (BIFF), by xlrd, which knows the form in which each cell is shown."""

import datetime
import io

from .bounds import Bounds
from .grids import empty_grid, put, sheet_of
from .number_formats import Shows, shows
from .packages import damaged, has_password, without_cells
from .sheet import CellKind, WorkbookRefused
from .shown import EMPTY, UNSHOWN, shown_day, shown_number, shown_text, shown_time, shown_yes_no

# the first day that no sheet has: 1 January 10000, counted from 1900
NO_SUCH_DAY = 2_958_466
# xlrd reads a mark of a name in a text as text, and writes what it wonders about to its log
QUIET = {"verbosity": 0, "formatting_info": True, "ragged_rows": True, "on_demand": True}


def read_xls(file, content):
    """The sheets of a file. WorkbookRefused where it is damaged, has a password, or is more than is read."""
    # only a file that comes in needs it
    import xlrd

    try:
        with xlrd.open_workbook(file_contents=content, logfile=io.StringIO(), **QUIET) as book:
            return _sheets(file, book)
    except WorkbookRefused:
        raise
    except xlrd.XLRDError as error:
        raise has_password(file) if "encrypted" in str(error) else damaged(file) from error
    except Exception as error:  # bytes that mean nothing stop it in many ways, each its own
        raise damaged(file) from error


def _sheets(file, book):
    bounds, sheets = Bounds(file), []
    bounds.take_sheets(book.nsheets)
    for number in range(book.nsheets):
        sheets.append(_sheet(book, book.sheet_by_index(number), bounds))
        book.unload_sheet(number)
    if not sheets:
        raise without_cells(file)
    return tuple(sheets)


def _sheet(book, sheet, bounds):
    bounds.take_cells(sheet.name, sheet.nrows, sheet.ncols)
    texts, kinds = empty_grid(sheet.nrows, sheet.ncols)
    for row in range(sheet.nrows):
        for column, cell in enumerate(sheet.row(row)):
            if type(cell.value) is str:
                bounds.take_text(sheet.name, row, column, len(cell.value))
            put(texts, kinds, row, column, _shown(book, cell))
    merged = [(top, left, bottom - 1, right - 1) for top, bottom, left, right in sheet.merged_cells]
    return sheet_of(sheet.name, sheet.visibility != 0, texts, kinds, merged)


def _shown(book, cell):
    from xlrd import XL_CELL_BOOLEAN, XL_CELL_DATE, XL_CELL_ERROR, XL_CELL_NUMBER, XL_CELL_TEXT, error_text_from_code

    if cell.ctype == XL_CELL_TEXT:
        return shown_text(cell.value)
    if cell.ctype in (XL_CELL_NUMBER, XL_CELL_DATE):
        return _shown_number(cell.value, _format_of(book, cell), book.datemode)
    if cell.ctype == XL_CELL_BOOLEAN:
        return shown_yes_no(cell.value)
    if cell.ctype == XL_CELL_ERROR:
        return error_text_from_code.get(cell.value, "#N/A"), CellKind.ERROR
    return EMPTY


def _format_of(book, cell):
    style = book.xf_list[cell.xf_index] if 0 <= cell.xf_index < len(book.xf_list) else None
    found = book.format_map.get(style.format_key) if style else None
    return found.format_str if found else "General"


def _shown_number(value, code, datemode):
    what = shows(code)
    if what in (Shows.NUMBER, Shows.CODE):
        return shown_number(value, code)
    if what is Shows.TIME and 0 <= value < NO_SUCH_DAY:
        return shown_time(datetime.timedelta(days=value if "[" in code else value % 1))
    return shown_day(_moment(value, datemode), what) if 1 <= value < NO_SUCH_DAY - 1_462 * datemode else UNSHOWN


def _moment(value, datemode):
    from xlrd.xldate import xldate_as_datetime

    return xldate_as_datetime(value, datemode)
