"""Headings that are themselves a day, a week, a month or a position, as above columns that say the same of each."""

import re
from enum import StrEnum

from ...workbooks.sheet import CellKind

# enough in a row to be no chance
FEWEST = 3
_MONTH = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|mär|mrz|mai|okt|dez)[a-zä]{0,6}\.?"
_YEAR = r"(?:\d{4}|'?\d{2})"
_POSITION = re.compile(
    r"(?:(?:p|pos|position|platz|place|slot|cable|kabel|segment|no|nr|k|#)\.? ?)?\d{1,2}", re.IGNORECASE
)
_DAY = re.compile(
    rf"\d{{4}}-\d\d?(?:-\d\d?)?|\d\d?[./-]\d\d?[./-]?(?:{_YEAR})?|{_MONTH}(?:[ ./-]*{_YEAR})?|"
    rf"\d\d?\.?[ -]{_MONTH}(?:[ -]*{_YEAR})?|(?:kw|cw|wk|week|woche|w)\.? ?\d\d?(?:[ /-]+{_YEAR})?|"
    rf"q[1-4](?:[ /-]*{_YEAR})?|(?:19|20)\d\d",
    re.IGNORECASE,
)
_WITHOUT_YEAR = re.compile(
    rf"\d\d?[./-]\d\d?[./-]?|\d\d?\.?[ -]?{_MONTH}|{_MONTH}(?: ?\d\d?\.?)?|(?:kw|cw|wk|week|woche|w)\.? ?\d\d?|q[1-4]",
    re.IGNORECASE,
)


class Heading(StrEnum):
    """What a heading is of its own."""

    DAY = "day"
    POSITION = "position"
    OTHER = ""


def kind_of_heading(text, kind=CellKind.TEXT):
    """Whether the cell of a heading is a day or a position; `kind` is that of its cell."""
    if kind in (CellKind.DAY, CellKind.MONTH):
        return Heading.DAY
    if _POSITION.fullmatch(text):
        return Heading.POSITION
    return Heading.DAY if _DAY.fullmatch(text) else Heading.OTHER


def is_without_year(text):
    """Whether a text is a day, week or month of some year."""
    return bool(_WITHOUT_YEAR.fullmatch(text.strip()))


def is_position(text):
    """Whether a text is the number of a position."""
    return bool(_POSITION.fullmatch(text.strip()))
