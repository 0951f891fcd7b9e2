"""Whether the weeks of a series are free for its mats."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta

from ..models import Event, Mat, MatDay
from ..parsing.day_words import days_in_words
from .clash_words import events_there, mat_elsewhere, mats_named
from .confirmation import WantsConfirmation

# the way out in which the weeks are planned without the mats
MATS = "without mats"


@dataclass(frozen=True)
class DateTaken:
    """What stands in the way of the event that would start on that day: the mat elsewhere, or the same event."""

    starts_on: date
    day: date
    event: Event
    mat: Mat | None = None


@dataclass(frozen=True)
class LeftOut:
    """Whole weeks, by their first day; or, {first day: mat ids}, the mats of some weeks."""

    weeks: frozenset = frozenset()
    mats: dict = field(default_factory=dict)

    def takes(self, starts_on, mat_id):
        """The mat does not go in the week that starts on that day."""
        return mat_id in self.mats.get(starts_on, ())


class DatesTaken(WantsConfirmation):
    """Weeks that cannot be as asked. Confirmed, exactly these are left out, or planned without the mats."""

    def __init__(self, taken):
        self.taken, self.weeks = taken, sorted({day.starts_on for day in taken})
        which = "this week" if len(self.weeks) == 1 else "these weeks"
        words = days_in_words(self.weeks)
        mats = {day.mat for day in taken}
        others = {} if None in mats else {MATS: f"Plan {which} without {self._away(mats)}: {words}"}
        super().__init__(
            [*map("Already taken: {}.".format, _lines(taken)), "Choose other mats, or one of these."],
            "taken_days",
            [f"{day.starts_on}@{day.day}@{day.event.pk}@{day.mat and day.mat.pk}" for day in taken],
            tick=f"Leave {which} out: {words}",
            others=others,
        )

    def _away(self, mats):
        named = mats_named(mats)
        return f"those of {named} that go elsewhere then" if len(mats) > 1 and len(self.weeks) > 1 else named

    def left_out(self, confirmed):
        """The LeftOut that was chosen; raises itself unless one was."""
        if self.raise_unless(confirmed) != MATS:
            return LeftOut(frozenset(self.weeks))
        mats = defaultdict(set)
        for day in self.taken:
            mats[day.starts_on].add(day.mat.pk)
        return LeftOut(mats=mats)


def left_out_of(spans, mat_ids, *, name, place, confirmed, apart_from=()):
    """What the keeper leaves out of these weeks, `spans` (first day -> last day), because it is taken; a LeftOut.

    Taken: one of the mats goes elsewhere on one of the days, or the same event is there already; the events
    `apart_from` do not count. Raises DatesTaken unless `confirmed` has its fingerprint.
    """
    taken = _same_events(spans, name, place, apart_from) + _mats_elsewhere(spans, mat_ids, apart_from)
    return DatesTaken(taken).left_out(confirmed) if taken else LeftOut()


def _lines(taken):
    """One for the events that are there already, one a mat."""
    by_mat = defaultdict(list)
    for day in taken:
        by_mat[day.mat].append(day)
    for mat, days in by_mat.items():
        events = [day.event for day in days]
        yield mat_elsewhere(mat, [day.day for day in days], events) if mat else events_there(events)


def _same_events(spans, name, place, apart_from):
    same = Event.objects.filter(name__iexact=name, place__iexact=place, starts_on__in=spans)
    existing = same.exclude(pk__in=apart_from).order_by("starts_on", "code")
    return [DateTaken(event.starts_on, event.starts_on, event) for event in existing]


def _mats_elsewhere(spans, mat_ids, apart_from):
    start_of = {day: start for start, end in spans.items() for day in _days_between(start, end)}
    taken = (
        MatDay.objects.filter(mat__in=mat_ids, day__range=(min(spans), max(spans.values())))
        .exclude(usage_event__event__in=apart_from)
        .select_related("mat", "usage_event__event")
        .order_by("mat__number", "day", "usage_event__event__code")
    )
    return [
        DateTaken(start_of[row.day], row.day, row.usage_event.event, row.mat) for row in taken if row.day in start_of
    ]


def _days_between(start, end):
    return [start + timedelta(days=number) for number in range((end - start).days + 1)]
