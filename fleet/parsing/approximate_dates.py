"""Days as people remember them: what is stored of each, and what it may have been.

The rule of *about*: the day lies somewhere within the span that was given. Stored is its middle, so that what is
computed from it errs to neither side; where the middle lies ahead, the first day of the span. The middle says how
roughly it was given, and is read back as that:

| span | middle |
| --- | --- |
| a week | its Thursday |
| a calendar month | its 15th |
| a season or a quarter, three months | the 16th of the middle month |
| a calendar year | the 1st of July |
| two calendar years | the 2nd of January of the second |

Of any other *about* day it is not on record how roughly it was given. Seasons are those of the northern half of the
earth: spring is March to May.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from ..choices import AcquiredBasis, FittedBasis
from ..figures import short_day
from ..months import MIDDLE_OF_MONTH, last_of_month, month_number, months_after

MIDDLE_OF_THREE_MONTHS = 16
MIDDLE_OF_YEAR = (7, 1)
MIDDLE_OF_TWO_YEARS = (1, 2)
# from the first to the last day of a week
WEEK = timedelta(days=6)
# a season by the number of its first month; winter is named by both years
SEASONS = {3: "spring", 6: "summer", 9: "autumn", 12: "winter"}


@dataclass(frozen=True)
class ApproximateDate:
    """A day, or the first and last day of the month, season, quarter, year or two years that it lies in."""

    first: date
    last: date

    @property
    def exact(self):
        return self.first == self.last

    def fitted(self, on):
        """(day, basis) to store of something that happened then, on or before `on`."""
        return (self.first, FittedBasis.KNOWN) if self.exact else (self._guess(on), FittedBasis.ABOUT)

    def acquired(self, on):
        """(day, basis) to store of a mat that came then, on or before `on`."""
        return (self.first, AcquiredBasis.KNOWN) if self.exact else (self._guess(on), AcquiredBasis.ABOUT)

    def middle(self, on):
        """The day to store of something that has no *about*, and happened on or before `on` if it can have."""
        return self.first if self.exact else self._guess(on)

    def not_later_than(self, on):
        """The last day that it can have been."""
        return min(self.last, on)

    def _guess(self, on):
        return self._middle if self._middle <= on else self.first

    @property
    def _middle(self):
        months = month_number(self.last) - month_number(self.first) + 1
        if self.last - self.first == WEEK:
            return self.first + WEEK / 2
        if months == 1:
            return self.first.replace(day=MIDDLE_OF_MONTH)
        if months == 3:
            return months_after(self.first, 1).replace(day=MIDDLE_OF_THREE_MONTHS)
        if self.first.year == self.last.year:
            return date(self.first.year, *MIDDLE_OF_YEAR)
        return date(self.last.year, *MIDDLE_OF_TWO_YEARS)


def span_of(year, month=None, months=1):
    """The calendar month, or so many from that one on; without a month the year."""
    if month is None:
        return ApproximateDate(date(year, 1, 1), date(year, 12, 31))
    first = date(year, month, 1)
    return ApproximateDate(first, last_of_month(months_after(first, months - 1)))


def week_of(year, number):
    """Monday to Sunday of a week of ISO 8601; ValueError where the year has no such week."""
    monday = date.fromisocalendar(year, number, 1)
    return ApproximateDate(monday, monday + WEEK)


def two_years(second):
    """This year and the one before."""
    return ApproximateDate(date(second - 1, 1, 1), date(second, 12, 31))


def given_span(day):
    """The span that an *about* stored as this day was given as; None where that is not on record."""
    if (day.month, day.day) == MIDDLE_OF_YEAR:
        return span_of(day.year)
    if (day.month, day.day) == MIDDLE_OF_TWO_YEARS:
        return two_years(day.year)
    if day.day == MIDDLE_OF_THREE_MONTHS:
        first = months_after(day, -1)
        return span_of(first.year, first.month, 3)
    return span_of(day.year, day.month) if day.day == MIDDLE_OF_MONTH else None


def fitted_in_words(day, basis):
    """A day that somebody gave, a guess as a guess.

    3 Apr 2023; about Apr 2023; about spring 2023; about 2023; about 2019 or 2020; 31 Dec 2022 or earlier.
    """
    if basis == FittedBasis.NOT_LATER_THAN:
        return f"{short_day(day)} or earlier"
    return f"about {_roughly(day)}" if basis == FittedBasis.ABOUT else short_day(day)


def _roughly(day):
    """The span that was given; the day where it is not on record how roughly it is known."""
    span = given_span(day)
    return short_day(day) if span is None else span_in_words(span)


def span_in_words(span):
    """Apr 2023; spring 2023; Apr to Jun 2023; 2023; 2019 or 2020; a day as 3 Apr 2023."""
    first, last = span.first, span.last
    if span.exact:
        return short_day(first)
    if last - first == WEEK:
        return f"week {first.isocalendar().week} of {first.isocalendar().year}"
    if (first.year, first.month) == (last.year, last.month):
        return f"{first:%b %Y}"
    if month_number(last) - month_number(first) == 2:
        return _three_months(first, last)
    return f"{first:%Y}" if first.year == last.year else f"{first:%Y} or {last:%Y}"


def _three_months(first, last):
    season = SEASONS.get(first.month)
    if season is None:
        return f"{first:%b} to {last:%b %Y}"
    return f"{season} {first:%Y}" + (f"/{last:%y}" if first.year < last.year else "")
