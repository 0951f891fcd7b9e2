"""Which mat is taken on which day: one row for each day of each usage event that is planned or went, but usual use."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from django.core.exceptions import ValidationError

from ..choices import UsageBasis, UsageState
from ..models import Event, MatDay
from ..models.trail import at_start
from .confirmation import WantsConfirmation
from .races import race_refused


@dataclass(frozen=True)
class Clash:
    """A mat that another event takes on some of the same days."""

    mat_id: int
    mat: str
    event: Event
    days: tuple[date, ...]
    planned: bool

    def __str__(self):
        last = f" to {self.days[-1]:%Y-%m-%d}" if len(self.days) > 1 else ""
        return f"{at_start(self.mat)} on {self.days[0]:%Y-%m-%d}{last}: {self.event}"


class DoubleBooked(WantsConfirmation):
    """Mats with another event on the same day. This can be right: confirmed, it is stored."""

    def __init__(self, clashes):
        message = "Some mats have another event on the same day. Confirm both, or change one."
        what = [f"{clash.mat_id}@{clash.event.pk}@{clash.days}" for clash in clashes]
        points = [f"{clash} (planned)" if clash.planned else clash for clash in clashes]
        super().__init__(message, "shares_a_day", what, points=points, tick="They went to both events")
        self.clashes = clashes


def check_days(event, states, *, confirmed=""):
    """The ids of the mats that share a day with another event, once the keeper confirmed it.

    `states`: mat id -> state at this event. Planned twice on a day raises ValidationError with one sentence a mat;
    any other shared day raises DoubleBooked unless `confirmed` is its fingerprint.
    """
    clashes = _clashes(event, states)
    twice = [clash for clash in clashes if clash.planned and states[clash.mat_id] == UsageState.PLANNED]
    if twice:
        raise ValidationError([f"Already planned: {clash}. Plan a mat for one event a day." for clash in twice])
    if clashes:
        DoubleBooked(clashes).raise_unless(confirmed)
    return {clash.mat_id for clash in clashes}


def _clashes(event, states):
    mat_ids = [mat_id for mat_id, state in states.items() if state != UsageState.CALLED_OFF]
    taken = (
        MatDay.objects.filter(mat__in=mat_ids, day__range=(event.starts_on, event.ends_on))
        .exclude(usage_event__event=event)
        .select_related("mat", "usage_event__event")
        .order_by("mat__number", "usage_event__event__code", "day")
    )
    grouped = defaultdict(list)
    for row in taken:
        grouped[row.mat, row.usage_event.event, row.planned].append(row.day)
    return [Clash(mat.pk, str(mat), other, tuple(days), planned) for (mat, other, planned), days in grouped.items()]


def write_days(usage_events):
    """Rewrite the days of these usage events.

    Raises ValidationError when somebody else planned one of the mats for the same day a moment ago.
    """
    MatDay.objects.filter(usage_event__in=[row.pk for row in usage_events]).delete()
    rows = [day for row in usage_events for day in days_of(row, row.event)]
    with race_refused("Somebody else has just planned one of these mats for the same day. Send it again to see which."):
        MatDay.objects.bulk_create(rows, batch_size=2_000)


def takes_days(usage):
    """Whether a usage event, or its UsageValues, takes the mat on the days of the event."""
    return usage.state != UsageState.CALLED_OFF and usage.basis != UsageBasis.USUAL


def days_of(usage_event, event):
    """The unsaved rows, one for each day of the event; none when called off, nor of usual use, which is of a month."""
    if not takes_days(usage_event):
        return []
    return [
        MatDay(
            mat_id=usage_event.mat_id,
            day=event.starts_on + timedelta(days=number),
            usage_event=usage_event,
            planned=usage_event.state == UsageState.PLANNED,
        )
        for number in range((event.ends_on - event.starts_on).days + 1)
    ]
