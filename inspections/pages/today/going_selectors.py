"""Which planned mats should not go, as far ahead as events are planned."""

from dataclasses import dataclass, field

from fleet.models import Event, UsageEvent

from ...assessment.unfit import Unfit

MATS_SHOWN = 5


@dataclass(frozen=True)
class GoingMat:
    number: str
    why: Unfit


@dataclass
class Going:
    """An event with planned mats that should not go; of a series its next such week, and in how many later ones."""

    event_id: int
    mats: list = field(default_factory=list)
    later_weeks: int = 0
    event: Event | None = None

    @property
    def shown(self):
        return self.mats[:MATS_SHOWN]

    @property
    def more(self):
        return len(self.mats) - len(self.shown)


@dataclass(frozen=True)
class GoingEvents:
    """The first few, soonest first, each with its `event`; `total`: how many events there are, each week counted."""

    shown: list
    more: int
    total: int


class PlannedMats:
    """Mats planned for events that are not over on that day, read once: event by event, soonest first."""

    def __init__(self, on):
        rows = UsageEvent.objects.still_planned(on).order_by("event__starts_on", "event__code", "mat__number")
        self._rows = list(rows.values_list("event", "event__series", "event__ends_on", "mat", "mat__number"))
        # today where nothing is planned
        self.last_day = max((ends_on for _, _, ends_on, _, _ in self._rows), default=on)

    def not_fit(self, known, most):
        """GoingEvents with mats of which a cable is due by their end, or which are held back; at most so many shown.

        `known`: UnfitMats of all mats until the last planned day.
        """
        events, of_series = {}, {}
        for event_id, series_id, ends_on, mat_id, number in self._rows:
            if why := known.why(mat_id, ends_on):
                going = events.setdefault(event_id, Going(event_id))
                going.mats.append(GoingMat(number, why))
                of_series.setdefault(f"of {series_id}" if series_id else event_id, {})[event_id] = going
        return _cut(of_series.values(), len(events), most)

    def next_event(self):
        """The soonest with its `mats_planned`; None where none is planned."""
        event = Event.objects.filter(pk=self._rows[0][0]).first() if self._rows else None
        if event:
            event.mats_planned = sum(event_id == event.pk for event_id, *_ in self._rows)
        return event


def _cut(groups, total, most):
    shown = []
    for weeks in list(groups)[:most]:
        first = next(iter(weeks.values()))
        first.later_weeks = len(weeks) - 1
        shown.append(first)
    events = Event.objects.in_bulk([going.event_id for going in shown])
    for going in shown:
        going.event = events[going.event_id]
    return GoingEvents(shown, len(groups) - len(shown), total)
