"""Workbooks and lists that wait under their hash, read as the sheets of one workbook."""

from dataclasses import replace
from functools import lru_cache
from pathlib import PurePosixPath

from ..workbooks.reading import read_workbook
from ..workbooks.sheet import Workbook, WorkbookRefused
from .own_workbooks import own_tables
from .uploads import has_own_sheets, is_waiting, waiting_files, waiting_sheets

# what can be looked through on one page
MOST_SHEETS = 40


def waiting_workbook(file_hash):
    """All sheets that wait under this hash, as one Workbook; None when nothing waits. WorkbookRefused says why not."""
    return _read(file_hash) if is_waiting(file_hash) else None


@lru_cache(maxsize=1)
def _read(file_hash):
    """One page after the other asks for the same sheets, which nobody changes: their hash is that of what they hold."""
    books = [read_workbook(name, content) for name, content in waiting_sheets(file_hash).items()]
    sheets = _named_apart([(book, sheet) for book in books for sheet in book.sheets])
    if len(sheets) > MOST_SHEETS:
        raise WorkbookRefused(
            f"There are {len(sheets)} sheets in all, more than the {MOST_SHEETS} that can be looked through at once. "
            "Send those that you need, in a workbook of their own."
        )
    return Workbook(tuple(sheets), file_hash, ", ".join(book.file for book in books))


def _named_apart(found):
    """Sheets of several files, each with a name of its own."""
    names = [sheet.name for _, sheet in found]
    sheets, taken = [], set()
    for book, sheet in found:
        name = sheet.name if names.count(sheet.name) == 1 else f"{PurePosixPath(book.file).stem}: {sheet.name}"
        while name in taken:
            name += "'"
        taken.add(name)
        sheets.append(replace(sheet, name=name))
    return sheets


def is_pool_workbook(file_hash):
    """Whether what waits is a workbook with the pool's own columns, as an export or a filled template is.

    ValidationError for one with cells that show no value; WorkbookRefused for what cannot be read.
    """
    return own_tables(waiting_workbook(file_hash)) is not None


def waiting_contents(file_hash):
    """{file name: bytes or RawTable} of the pool's own files that wait, or of its workbook; None when nothing does."""
    if is_waiting(file_hash) and has_own_sheets(file_hash):
        return own_tables(waiting_workbook(file_hash)) or {}
    return waiting_files(file_hash)
