"""Whether the weeks of a series are free for its mats."""

from dataclasses import dataclass
from datetime import date, timedelta

from ..models import Event, MatDay
from .confirmation import WantsConfirmation


@dataclass(frozen=True)
class DateTaken:
    """What stands in the way of the event that would start on that day."""

    starts_on: date
    what: str

    def __str__(self):
        return self.what


class DatesTaken(WantsConfirmation):
    """Weeks that cannot be as asked. Confirmed, exactly these are left out."""

    def __init__(self, taken):
        message = [f"Already taken: {day}." for day in taken] + ["Choose other mats, or leave these weeks out."]
        self.weeks = sorted({day.starts_on for day in taken})
        which = "this week" if len(self.weeks) == 1 else "these weeks"
        tick = f"Leave {which} out: {', '.join(f'{day.day} {day:%b %Y}' for day in self.weeks)}"
        super().__init__(message, "taken_days", [f"{day.starts_on}@{day.what}" for day in taken], tick=tick)


def weeks_skipped(spans, mat_ids, *, name, place, confirmed, apart_from=()):
    """The first days, of `spans` (first day -> last day), that are taken and left out by the keeper; none: all free.

    Taken: one of the mats goes elsewhere on one of the days, or the same event is there already; the events
    `apart_from` do not count. Raises DatesTaken unless `confirmed` has its fingerprint.
    """
    taken = _same_events(spans, name, place, apart_from) + _mats_elsewhere(spans, mat_ids, apart_from)
    if taken:
        DatesTaken(taken).raise_unless(confirmed)
    return {day.starts_on for day in taken}


def _same_events(spans, name, place, apart_from):
    same = Event.objects.filter(name__iexact=name, place__iexact=place, starts_on__in=spans)
    existing = same.exclude(pk__in=apart_from).order_by("starts_on", "code")
    return [DateTaken(event.starts_on, f"{event} is on {event.starts_on:%Y-%m-%d} already") for event in existing]


def _mats_elsewhere(spans, mat_ids, apart_from):
    start_of = {day: start for start, end in spans.items() for day in _days_between(start, end)}
    taken = (
        MatDay.objects.filter(mat__in=mat_ids, day__range=(min(spans), max(spans.values())))
        .exclude(usage_event__event__in=apart_from)
        .select_related("mat", "usage_event__event")
        .order_by("day", "mat__number", "usage_event__event__code")
    )
    return [
        DateTaken(start_of[row.day], f"{row.mat.at_start} on {row.day:%Y-%m-%d}: {row.usage_event.event}")
        for row in taken
        if row.day in start_of
    ]


def _days_between(start, end):
    return [start + timedelta(days=number) for number in range((end - start).days + 1)]
