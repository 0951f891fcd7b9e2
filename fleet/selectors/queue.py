"""What a phone keeps beside its queue, so that the log page has events to offer without signal."""

from django.db.models import prefetch_related_objects

from ..choices import UsageState
from .loans import is_loan, lasts_long
from .seen import versions_of
from .usage import events_around


def kept_events(on, *, plans):
    """Events around the day and those still ahead, as plain values; `plans`: with loans.

    How many there are does not change how often the database is asked.
    """
    events = events_around(on)
    prefetch_related_objects(events, "usage_events__mat")
    return [_event(event) for event in events if plans or not _is_long(event)]


def _is_long(event):
    return lasts_long(event) or is_loan(event, event.usage_events.all())


def _event(event):
    return {
        "code": event.code,
        "name": event.name,
        "place": event.place,
        "starts_on": event.starts_on.isoformat(),
        "ends_on": event.ends_on.isoformat(),
        "planned": _numbers(event, UsageState.PLANNED),
        "went": _numbers(event, UsageState.WENT),
        "seen": versions_of(event),
    }


def _numbers(event, state):
    return sorted(row.mat.number for row in event.usage_events.all() if row.state == state)
