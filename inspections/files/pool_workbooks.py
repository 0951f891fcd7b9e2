"""The pool as one workbook, and the empty one to type a pool into: a sheet for each file, made from its layout."""

import os
import tempfile
from contextlib import ExitStack, closing
from datetime import date

from django.core.exceptions import ValidationError

from fleet.intake import one_moment
from fleet.intake.exporting import CHUNK, rows_in_order
from fleet.intake.kinds import AMOUNT, DAY, NUMBER, SIGNED, WHOLE

from ..workbooks.writing import CellNotWritten, Holds, OutColumn, OutSheet, write_workbook
from .column_words import ROWS, column_words
from .examples import EXAMPLES
from .own_workbooks import EXPLAINED, sheet_name
from .sets import LAYOUTS, LOSS

SUFFIX = ".xlsx"
NUMBERS = (AMOUNT, LOSS, NUMBER, SIGNED, WHOLE)
EXPLAINING = (
    OutColumn("sheet", width=20),
    OutColumn("column", width=24),
    OutColumn("must be filled", width=14),
    OutColumn("tells rows apart", width=16),
    OutColumn("what it holds", width=80),
)
HOW_TO_USE = (
    "Fill the sheets that you need, and leave the others as they are. Keep the names of sheets and columns.",
    "Columns in bold must be filled. Columns that nobody needs may be deleted. The grey row is an example: it is left "
    "out when the workbook is loaded, unless you change it.",
    "Then send this workbook on the page Files. You see what is in it before anything is stored.",
)


def export_workbook(path):
    """Write the whole pool into a new .xlsx file; returns {file name: number of rows}.

    The file appears whole or not at all. ValidationError where there is one of that name, where it cannot be written,
    or where a sheet has no room for the rows.
    """
    if path.exists():
        raise ValidationError(f"{path} is there already. Name a new file, so that none is lost.")
    draft = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with draft.open("wb") as stream:
            counts = write_pool(stream)
        draft.replace(path)
        return counts
    except OSError as error:
        raise ValidationError(f"{error.filename or path} cannot be written: {error.strerror}.") from error
    finally:
        draft.unlink(missing_ok=True)


def workbook_of_the_pool():
    """The whole pool as a temporary .xlsx file at its start, gone once closed."""
    return _temporary(write_pool)


def template_workbook():
    """The empty workbook: an example row in each sheet, and a sheet that says what each column holds."""
    return _temporary(lambda stream: write_workbook(stream, [_explaining(), *map(_template_sheet, LAYOUTS)]))


def _temporary(write):
    stream = tempfile.TemporaryFile()  # noqa: SIM115 - whoever sends it closes it
    try:
        write(stream)
    except BaseException:
        stream.close()
        raise
    stream.seek(0)
    return stream


def write_pool(stream):
    sheets = [_pool_sheet(layout) for layout in LAYOUTS]
    try:
        with one_moment(), ExitStack() as reading:
            # rows left unread hold a cursor open, which PostgreSQL minds in whatever comes after
            for sheet in sheets:
                reading.enter_context(closing(sheet.rows))
            counts = write_workbook(stream, sheets)
    except CellNotWritten as error:
        raise ValidationError(f"{error} Export the pool as CSV files instead: they have no such limit.") from error
    return {layout.file: counts[sheet_name(layout)] for layout in LAYOUTS}


def _pool_sheet(layout):
    return OutSheet(sheet_name(layout), _columns(layout), _pool_rows(layout))


def _pool_rows(layout):
    columns = layout.columns
    for values in layout.values_of(rows_in_order(layout), columns, at_a_time=CHUNK):
        yield tuple(_cell(column, value) for column, value in zip(columns, values, strict=True))


def _cell(column, value):
    """Numbers, days and texts as they are, not guarded as in a CSV file: a cell of text is never a formula."""
    if isinstance(value, bool | list):
        return column.write(value)
    return column.kind.of_none if value is None else value


def _columns(layout):
    return tuple(
        OutColumn(column.name, _holds(column), column.needed, tuple(column.words)) for column in layout.columns
    )


def _holds(column):
    return Holds.DAY if column.kind is DAY else Holds.NUMBER if column.kind in NUMBERS else Holds.TEXT


def _template_sheet(layout):
    example = EXAMPLES[layout.file]
    row = tuple(_typed(column, example.get(column.name, "")) for column in layout.columns)
    return OutSheet(sheet_name(layout), _columns(layout), [row], quiet_rows=1)


def _typed(column, text):
    """An example as the value that somebody types."""
    if not text or _holds(column) is Holds.TEXT:
        return text
    return date.fromisoformat(text) if column.kind is DAY else float(text)


def _explaining():
    rows = [(text,) for text in HOW_TO_USE]
    for layout in LAYOUTS:
        rows.append((sheet_name(layout), "", "", "", ROWS[layout.file]))
        rows += [
            (
                sheet_name(layout),
                column.name,
                "yes" if column.needed else "",
                "yes" if column.key else "",
                column_words(column),
            )
            for column in layout.columns
        ]
    return OutSheet(EXPLAINED, EXPLAINING, rows)
