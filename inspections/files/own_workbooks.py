"""The pool's files as the sheets of one workbook: what `pool_workbooks` writes, read back as the same tables."""

import numpy as np
from django.core.exceptions import ValidationError

from fleet.intake.csv_files import RawTable
from fleet.intake.findings import named
from fleet.intake.kinds import CODE, DAY, LINES, TEXT, guarded

from ..workbooks.bounds import cell_name
from ..workbooks.reading import read_workbook
from ..workbooks.sheet import CellKind, WorkbookRefused
from .examples import EXAMPLES
from .sets import LAYOUTS

# the sheet of a template that says what the others hold
EXPLAINED = "Explained"
# their text may begin with what a spreadsheet takes for a formula; in a CSV file it is guarded
GUARDED = (CODE, LINES, TEXT)
MOST_NAMED = 10


def sheet_name(layout):
    return layout.file.removesuffix(".csv")


BY_SHEET = {sheet_name(layout): layout for layout in LAYOUTS}


def own_tables(workbook):
    """{file name: RawTable} of a workbook whose sheets have the names and columns of the pool's files.

    None of any other, so that its sheets are asked about instead: no sheet that holds something is left out unsaid. A
    template's example that nobody changed is none of its rows. ValidationError names cells that hold an error value.
    """
    sheets = [sheet for sheet in workbook.sheets if sheet.name != EXPLAINED and sheet.texts.size]
    if not sheets or not all(_is_ours(sheet) for sheet in sheets):
        return None
    _refuse_errors(workbook.file, sheets)
    tables = [_table(BY_SHEET[sheet.name], sheet, workbook.sha256) for sheet in sheets]
    return {table.file: table for table in tables}


def read_pool_workbook(path):
    """The tables of a workbook file. ValidationError where it is none of the pool's own, or cannot be read."""
    try:
        tables = own_tables(read_workbook(path.name, path.read_bytes()))
    except OSError as error:
        raise ValidationError(f"{path} cannot be read: {error.strerror}.") from error
    except WorkbookRefused as error:
        raise ValidationError(str(error)) from error
    if tables is None:
        raise ValidationError(
            f"{path} is a file, but no workbook with the sheets and columns of the pool. Name the folder that holds "
            "the CSV files, or a workbook that export wrote. Send a list of your own on the page Files: it asks what "
            "the columns mean."
        )
    return tables


def _is_ours(sheet):
    layout = BY_SHEET.get(sheet.name)
    if layout is None:
        return False
    headings = _headings(sheet)
    needed = {column.name for column in layout.columns if column.needed}
    return needed <= set(headings) <= set(layout.names) and len(set(headings)) == len(headings)


def _headings(sheet):
    return [text.strip() for text in sheet.texts[0].tolist()]


def _refuse_errors(file, sheets):
    found = [
        f"{sheet.name}, {cell_name(row, column)}: {sheet.texts[row, column]}"
        for sheet in sheets
        for row, column in np.argwhere(sheet.kinds == CellKind.ERROR).tolist()
    ]
    if found:
        more = f" and {len(found) - MOST_NAMED:,} more" if len(found) > MOST_NAMED else ""
        raise ValidationError(
            f"{file} has cells that show no value ({named(found[:MOST_NAMED])}{more}). Mend them in the spreadsheet, "
            "and send it again."
        )


def _table(layout, sheet, sha256):
    """Lines are numbered as the spreadsheet numbers its rows."""
    headings = _headings(sheet)
    rows = np.flatnonzero((sheet.kinds != CellKind.EMPTY).any(axis=1))
    rows = rows[rows > 0]
    cells = {name: _cells(layout.column(name), sheet, place, rows) for place, name in enumerate(headings)}
    real = ~_are_example(layout, cells, len(rows))
    return RawTable(layout.file, sha256, rows[real] + 1, {name: each[real] for name, each in cells.items()}, False)


def _cells(column, sheet, place, rows):
    texts = sheet.texts[rows, place]
    if column.kind in GUARDED:
        texts = np.array([guarded(text) for text in texts.tolist()], dtype=object)
    elif column.kind is DAY:
        days = sheet.kinds[rows, place] == CellKind.DAY
        texts = np.array([text[:10] if day else text for text, day in zip(texts, days, strict=True)], dtype=object)
    return texts


def _are_example(layout, cells, count):
    """A mask of the rows that are the template's example, unchanged."""
    example = EXAMPLES[layout.file]
    same = [cells[name] == example.get(name, "") for name in cells]
    return np.logical_and.reduce(same) if same and count else np.zeros(count, dtype=bool)
