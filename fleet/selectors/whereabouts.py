"""Where mats are: out with an event, or expected back from one."""

import uuid
from dataclasses import dataclass, field

from ..models import Event, UsageEvent
from .seen import mark_of

MATS_NAMED = 12


@dataclass
class Away:
    """An event with the mats that are out with it, or that should be back; a form says which by `seen`."""

    event: Event
    back: bool
    rows: list = field(default_factory=list)
    token: uuid.UUID = field(default_factory=uuid.uuid4)

    @property
    def shown(self):
        return [row.mat for row in self.rows[:MATS_NAMED]]

    @property
    def more(self):
        return max(0, len(self.rows) - MATS_NAMED)

    @property
    def seen(self):
        return mark_of(self.event, self.rows)


def mats_away(on):
    """All `Away` by their last days: so those that should be back stand before those that are out; one query."""
    usage = UsageEvent.objects.away(on).select_related("event", "mat")
    away = {}
    for row in usage.order_by("event__ends_on", "event__code", "mat__number"):
        away.setdefault(row.event_id, Away(row.event, row.event.ends_on < on)).rows.append(row)
    return list(away.values())


def whereabouts_of(mat, on):
    """The `Away` of a mat that is out or should be back; None at home."""
    rows = mat.usage_events.select_related("event").order_by("-event__starts_on")
    out = rows.out(on).first()
    row = out or rows.should_be_back(on).first()
    return row and Away(row.event, out is None, [row])


def awaited_at(event, on):
    """Its usage events of which the mats may come home, by mat number."""
    return list(event.usage_events.awaited(on).select_related("mat").order_by("mat__number"))
