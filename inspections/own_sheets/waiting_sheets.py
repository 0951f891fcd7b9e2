"""Sheets of a keeper that wait under their hash, with what was said of them so far."""

from dataclasses import replace
from functools import lru_cache
from pathlib import PurePosixPath

from ..files.uploads import is_waiting, read_beside, waiting_sheets, write_beside
from ..workbooks.reading import read_workbook
from ..workbooks.sheet import Workbook, WorkbookRefused
from .meanings import as_json, from_json

MEANINGS = "meanings.json"
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


def waiting_meanings(file_hash):
    """What was said of the sheets that wait under this hash, a tuple of SheetMeaning; None before anything was said."""
    said = read_beside(file_hash, MEANINGS)
    return None if said is None else from_json(said)


def keep_waiting_meanings(file_hash, meanings):
    """Keep what was said beside the files for as long as they wait; ValidationError when they do no more."""
    write_beside(file_hash, MEANINGS, as_json(meanings))
