"""Days as people remember them: `12 March 2024`, `March 2024`, `2024`; what is stored, and what it may have been.

The rule of *about*: the day lies somewhere within the calendar month or year that was given. Stored is the middle, the
15th of the month or the 1st of July, so that what is computed from it errs to neither side; where the middle lies
ahead, the first day of the span. Read back, an *about* of the 15th means that month and one of 1 July that year; of
any other day it is not on record how roughly it was given.
"""

import re
from dataclasses import dataclass
from datetime import date

from ..choices import FittedBasis
from ..limits import USUAL_FROM_YEAR
from ..months import MIDDLE_OF_MONTH, last_of_month

MIDDLE_OF_YEAR = (7, 1)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_NAME = r"(?P<name>[A-Za-z]{3,9})\.?"
_SHAPES = [
    re.compile(shape)
    for shape in (
        r"(?P<year>\d{4})",
        r"(?P<year>\d{4})-(?P<month>\d{1,2})",
        r"(?P<month>\d{1,2})[./](?P<year>\d{4})",
        rf"{_NAME},? (?P<year>\d{{4}})",
        r"(?P<year>\d{4})-(?P<month>\d{1,2})-(?P<day>\d{1,2})",
        r"(?P<day>\d{1,2})[./] ?(?P<month>\d{1,2})[./] ?(?P<year>\d{4})",
        rf"(?P<day>\d{{1,2}})\.? {_NAME},? (?P<year>\d{{4}})",
        rf"{_NAME} (?P<day>\d{{1,2}}),? (?P<year>\d{{4}})",
    )
]


@dataclass(frozen=True)
class ApproximateDate:
    """A day, or the first and last day of the month or year that it lies in."""

    first: date
    last: date

    @property
    def exact(self):
        return self.first == self.last

    def fitted(self, on):
        """(day, basis) to store of something that happened then, on or before `on`."""
        if self.exact:
            return self.first, FittedBasis.KNOWN
        return (self._middle if self._middle <= on else self.first), FittedBasis.ABOUT

    def not_later_than(self, on):
        """The last day that it can have been."""
        return min(self.last, on)

    @property
    def _middle(self):
        if self.first.month == self.last.month:
            return self.first.replace(day=MIDDLE_OF_MONTH)
        month, day = MIDDLE_OF_YEAR
        return self.first.replace(month=month, day=day)


def read_approximate_date(text):
    """The ApproximateDate that a text names; ValueError when it names none."""
    text = " ".join(text.split())
    found = next(filter(None, (shape.fullmatch(text) for shape in _SHAPES)), None)
    if found is None:
        raise ValueError("no day, month or year")
    parts = found.groupdict()
    year, month = int(parts["year"]), _month(parts)
    if year < USUAL_FROM_YEAR:
        raise ValueError("too long ago")
    if parts.get("day"):
        day = date(year, month, int(parts["day"]))
        return ApproximateDate(day, day)
    return span_of(year, month)


def span_of(year, month=None):
    """The calendar month, or without one the year."""
    if month is None:
        return ApproximateDate(date(year, 1, 1), date(year, 12, 31))
    if not 1 <= month <= 12:
        raise ValueError("no month")
    first = date(year, month, 1)
    return ApproximateDate(first, last_of_month(first))


def given_span(day):
    """The month or year that an *about* stored as this day was given as; None where that is not on record."""
    if (day.month, day.day) == MIDDLE_OF_YEAR:
        return span_of(day.year)
    return span_of(day.year, day.month) if day.day == MIDDLE_OF_MONTH else None


def fitted_in_words(day, basis):
    """The day of a fitting, a guess as a guess: 3 Apr 2023; about Apr 2023; about 2023; 31 Dec 2022 or earlier."""
    if basis == FittedBasis.NOT_LATER_THAN:
        return f"{_in_words(day)} or earlier"
    return f"about {_roughly(day)}" if basis == FittedBasis.ABOUT else _in_words(day)


def _roughly(day):
    """The month or year that was given; the day where it is not on record how roughly it is known."""
    span = given_span(day)
    if span is None:
        return _in_words(day)
    return f"{day:%b %Y}" if span.first.month == span.last.month else f"{day:%Y}"


def _in_words(day):
    return f"{day.day} {day:%b %Y}"


def _month(parts):
    name = parts.get("name")
    if name:
        return _MONTHS.index(name[:3].lower()) + 1
    return int(parts["month"]) if parts.get("month") else None
