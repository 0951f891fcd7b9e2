"""Days of an event as people write them: `3-4 May 2026`, `03./04.05.2026`, `30 April to 2 May 2026`, or one day."""

import re
from collections.abc import Iterator

from ..limits import LONGEST_EVENT_DAYS
from .approximate_dates import ApproximateDate
from .day_orders import DayOrder
from .rough_days import read_rough_day

_BETWEEN = re.compile(r" (?:to|bis|until|till|and|und) | ?[-–—+&/] ?|, ")
_DAY_ALONE = re.compile(r"(?:\w{2,9}\.? )?\d{1,2}(?:\.|st|nd|rd|th)?")
_DAY_AND_MONTH = re.compile(r"(\d{1,2})([./])(\d{1,2})\2?")
_NAME_FIRST = re.compile(r"([^\W\d_]{3,9}\.?) (\d{1,2})")


def read_day_span(text, on, order=DayOrder.NOT_SAID):
    """The ApproximateDate of one day, or of a month and the like; of several days (first, last) as a tuple.

    ValueError, with a sentence that says what to write instead, where none is named or two may be.
    """
    try:
        return read_rough_day(text, on, order)
    except ValueError as refused:
        days = next(_several(" ".join(text.split()), on, order), None)
        if days is None:
            raise refused
        return days


def _several(plain, on, order) -> Iterator[tuple]:
    """(first, last) for each way to take the text apart into two days that follow each other."""
    for sign in _BETWEEN.finditer(plain):
        first, last = plain[: sign.start()].strip(), plain[sign.end() :].strip()
        for start, end in ((first, last), *_month_said_once(first, last)):
            span = _span(start, end, on, order)
            if span:
                yield span


def _month_said_once(first, last):
    """`May 3`, `4, 2026`: the end with the month of the beginning."""
    if named := _NAME_FIRST.fullmatch(first):
        yield f"{first} {last.split()[-1]}", f"{named[1]} {last}"
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", first) and re.fullmatch(r"\d{1,2}", last):
        yield first, f"{first[:8]}{last:0>2}"


def _span(first, last, on, order):
    end = _day(last, on, order)
    start = end and (_day(first, on, order) or _day(_completed(first, end), on, order))
    if start and start < end and (end - start).days < LONGEST_EVENT_DAYS:
        return start, end
    return None


def _completed(first, end):
    """The beginning with what only the end says: its year, or its month and year."""
    if _DAY_ALONE.fullmatch(first):
        return f"{first.split()[-1].rstrip('.sthndr')} {end:%B %Y}"
    if found := _DAY_AND_MONTH.fullmatch(first):
        return f"{found[1]}{found[2]}{found[3]}{found[2]}{end.year}"
    return f"{first} {end.year}"


def _day(text, on, order):
    try:
        read: ApproximateDate = read_rough_day(text, on, order)
    except ValueError:
        return None
    return read.first if read.exact else None
