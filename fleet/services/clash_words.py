"""What stands in the way of a plan, in words: one line a mat, however many days and events there are."""

from collections import Counter

from ..models.trail import at_start
from ..parsing.counts import listed
from ..parsing.day_words import days_in_words


def mat_elsewhere(mat, days, events):
    """M-017 on 8 Jan 2027: E-1 Hill run; mat 3 on 8 Jan, 15 Jan and 22 Jan 2027: Canal run (3 events)."""
    return f"{at_start(str(mat))} on {days_in_words(days)}: {_named(events)}"


def events_there(events):
    """E-77 Canal run is on 17 Oct 2026 already; Canal run (3 events) is on … already."""
    return f"{_named(events)} is on {days_in_words([event.starts_on for event in events])} already"


def mats_named(mats):
    return listed(sorted(map(str, mats)))


def _named(events):
    events = list({event.pk: event for event in events}.values())
    if len(events) == 1:
        return str(events[0])
    names = Counter(event.name for event in events)
    return ", ".join(f"{name} ({number} events)" if number > 1 else name for name, number in names.items())
