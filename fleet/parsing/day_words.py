"""Days in words, as a sentence names them."""

from datetime import timedelta

from .counts import listed

MOST_NAMED = 4


def days_in_words(days):
    """8 Jan 2027; 8 to 10 Jan 2027; 8 Jan, 15 Jan and 5 Feb 2027.

    Of many the first few: 8 Jan, 15 Jan, 22 Jan and 6 more days to 5 Mar 2027.
    """
    spans = _spans(days)
    if len(spans) > MOST_NAMED:
        shown, last = [_span(*span) for span in spans[: MOST_NAMED - 1]], spans[-1][1]
        rest = sum((end - start).days + 1 for start, end in spans[MOST_NAMED - 1 :])
        return f"{', '.join(shown)} and {rest} more days to {_day(last)} {last.year}"
    words = [_span(*span) for span in spans]
    if spans[0][0].year != spans[-1][1].year:
        words = [f"{word} {span[1].year}" for word, span in zip(words, spans, strict=True)]
        return listed(words)
    return f"{listed(words)} {spans[-1][1].year}"


def _spans(days):
    """[[first, last]] of days that follow one another."""
    spans = []
    for day in sorted(set(days)):
        if spans and day - spans[-1][1] == timedelta(days=1):
            spans[-1][1] = day
        else:
            spans.append([day, day])
    return spans


def _span(first, last):
    if first == last:
        return _day(first)
    return f"{first.day if first.month == last.month else _day(first)} to {_day(last)}"


def _day(day):
    return f"{day.day} {day:%b}"
