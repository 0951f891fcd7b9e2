"""Texts of sheets by their meanings: those that hold days, and the year that a sheet names."""

import re

from ...workbooks.sheet import CellKind
from ..columns.table_places import headings_of
from ..columns.wide_headings import is_without_year
from ..meanings import DAY_FIELDS, LOSS_BY_HEADING, USE_BY_HEADING

_YEAR = re.compile(r"(?<!\d)(?:19|20)\d\d(?!\d)")


def sheets_with(workbook, meanings):
    """(sheet, meaning) of those that are taken."""
    named = {meaning.sheet: meaning for meaning in meanings if meaning.is_taken}
    return [(sheet, named[sheet.name]) for sheet in workbook.sheets if sheet.name in named]


def column_texts(sheet, meaning, column):
    """The different filled cells of a column, from the top."""
    texts = sheet.texts[meaning.first_row : meaning.end_row, column]
    return [text for text in dict.fromkeys(text.strip() for text in texts) if text]


def day_texts(workbook, meanings):
    """All different texts that are to be read as days and are not kept as days by the spreadsheet."""
    return {text for sheet, meaning in sheets_with(workbook, meanings) for text in _days_of(sheet, meaning)}


def _days_of(sheet, meaning):
    columns = [column.index for column in meaning.columns if column.field in DAY_FIELDS]
    if columns:
        rows = slice(meaning.first_row, meaning.end_row)
        kinds, texts = sheet.kinds[rows][:, columns], sheet.texts[rows][:, columns]
        yield from dict.fromkeys(text.strip() for text in texts[kinds == CellKind.TEXT])
    yield from wide_headings(sheet, meaning)


def wide_headings(sheet, meaning):
    """The headings of columns that say the same of each day or position."""
    headings = headings_of(sheet, meaning.header_row)
    wide = [*meaning.indexes_of(LOSS_BY_HEADING), *meaning.indexes_of(USE_BY_HEADING)]
    return [headings[column] for column in wide]


def day_without_year(sheet, meaning):
    """The first text of a day, week or month without a year; "" where each has one."""
    return next(filter(is_without_year, _days_of(sheet, meaning)), "") if meaning.is_taken else ""


def told_year(sheet, meaning, file):
    """The year, as text, that the sheet's name, the lines above its headings or the file's name give; else ""."""
    if not day_without_year(sheet, meaning):
        return ""
    above = " ".join(sheet.texts[: meaning.header_row or 0].ravel().tolist())
    named = (_YEAR.findall(text) for text in (sheet.name, above[:500], file))
    return next((years[0] for years in named if len(set(years)) == 1), "")
