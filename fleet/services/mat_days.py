"""Which mat is taken on which day: one row for each day of each usage event that is planned or went, but usual use."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from django.core.exceptions import ValidationError

from ..choices import UsageBasis, UsageState
from ..models import Event, MatDay
from ..models.bulk_rows import insert_rows
from .clash_words import mat_elsewhere, mats_named
from .confirmation import WantsConfirmation
from .races import race_refused

# the way out in which the other events give way
GIVE_WAY = "give way"


@dataclass(frozen=True)
class Clash:
    """A mat that another event takes on some of the same days."""

    mat_id: int
    mat: str
    event: Event
    days: tuple[date, ...]
    planned: bool

    def __str__(self):
        return mat_elsewhere(self.mat, self.days, [self.event])


@dataclass(frozen=True)
class DaysChecked:
    """`shared`: ids of mats that went to two events on a day; `left_out`: of those that do not go after all.

    `give_way`: (mat id, event id) of what is called off elsewhere.
    """

    shared: set
    left_out: set
    give_way: set


class PlannedTwice(WantsConfirmation):
    """Mats that are planned for another event on the same day: left out of this one, or called off at the others."""

    def __init__(self, clashes, some_are_left):
        by_mat = _by_mat(clashes)
        lines = [f"Already planned: {mat_elsewhere(mat, *_days_and_events(group))}." for mat, group in by_mat.items()]
        leave, give_way = f"Leave {mats_named(by_mat)} out", _give_way_words(clashes, by_mat)
        tick, others = (leave, {GIVE_WAY: give_way}) if some_are_left else (give_way, {})
        super().__init__(lines, "planned_twice", ["twice", *_what(clashes)], tick=tick, others=others)
        self.clashes, self.some_are_left = clashes, some_are_left

    def settled(self, confirmed):
        """(ids of the mats left out, (mat id, event id) of what gives way); raises itself unless it was answered."""
        chosen = self.raise_unless(confirmed)
        if self.some_are_left and chosen != GIVE_WAY:
            return {clash.mat_id for clash in self.clashes}, set()
        return set(), {(clash.mat_id, clash.event.pk) for clash in self.clashes}


class DoubleBooked(WantsConfirmation):
    """Mats with another event on the same day. This can be right: confirmed, it is stored."""

    def __init__(self, clashes):
        message = "Some mats have another event on the same day. Confirm both, or change one."
        points = [f"{clash} (planned)" if clash.planned else clash for clash in clashes]
        super().__init__(message, "shares_a_day", _what(clashes), points=points, tick="They went to both events")
        self.clashes = clashes


def check_days(event, states, *, confirmed="", may_leave_out=False):
    """The mats that share a day with another event, once the keeper said what is to be done; a DaysChecked.

    `states`: mat id -> state at this event. Planned twice on a day raises ValidationError with one sentence a mat: a
    PlannedTwice where mats may be left out. Any other shared day raises DoubleBooked. Neither where `confirmed` has
    its fingerprint.
    """
    clashes, left_out, give_way = _clashes(event, states), set(), set()
    twice = [clash for clash in clashes if clash.planned and states[clash.mat_id] == UsageState.PLANNED]
    if twice:
        refusal = PlannedTwice(twice, some_are_left={clash.mat_id for clash in twice} != set(states))
        if not may_leave_out:
            raise ValidationError(refusal.messages)
        left_out, give_way = refusal.settled(confirmed)
    clashes = [clash for clash in clashes if clash not in twice and clash.mat_id not in left_out]
    if clashes:
        DoubleBooked(clashes).raise_unless(confirmed)
    return DaysChecked({clash.mat_id for clash in clashes}, left_out, give_way)


def _by_mat(clashes):
    by_mat = defaultdict(list)
    for clash in clashes:
        by_mat[clash.mat].append(clash)
    return by_mat


def _days_and_events(clashes):
    return [day for clash in clashes for day in clash.days], [clash.event for clash in clashes]


def _give_way_words(clashes, by_mat):
    events = len({clash.event.pk for clash in clashes})
    others = "the other event" if events == 1 else f"the {events} other events"
    return f"Call {mats_named(by_mat)} off at {others}"


def _what(clashes):
    return [f"{clash.mat_id}@{clash.event.pk}@{clash.days}" for clash in clashes]


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


def write_days_at_once(usage_events):
    """Write the days of many usage events, a queryset, that have none yet. Raises IntegrityError."""
    taken = usage_events.taken_along().order_by()
    spans = Event.objects.filter(pk__in=taken.values("event")).order_by().values_list("pk", "starts_on", "ends_on")
    days = {pk: _days_between(starts_on, ends_on) for pk, starts_on, ends_on in spans}
    of_rows = taken.values_list("pk", "mat", "event", "state").iterator(2_000)
    rows = [(pk, mat, day, state == UsageState.PLANNED) for pk, mat, event, state in of_rows for day in days[event]]
    if rows:
        names = ("usage_event_id", "mat_id", "day", "planned")
        insert_rows(MatDay, dict(zip(names, zip(*rows, strict=True), strict=True)), {})


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
            day=day,
            usage_event=usage_event,
            planned=usage_event.state == UsageState.PLANNED,
        )
        for day in _days_between(event.starts_on, event.ends_on)
    ]


def _days_between(starts_on, ends_on):
    return [starts_on + timedelta(days=number) for number in range((ends_on - starts_on).days + 1)]
