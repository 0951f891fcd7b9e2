"""What falls due month by month, and what may be compared with it."""

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Q
from django.db.models.functions import TruncMonth

from fleet.models import Fitting, UsageEvent
from fleet.months import first_of_month, months_after

from ..numeric.words import Cause

MONTHS_AHEAD = 24
# of age and events a keeper set the limit; the others were seen or measured, on the cable or on similar ones
BY_LIMIT = (Cause.AGE, Cause.EVENTS)


@dataclass(frozen=True)
class MonthDue:
    """Cables that fall due from that day on until the month ends; of what is due already, `first` is None.

    `by_limit`: by age or events alone. `seen`: by loss, trend or damage. `events`: planned ones that begin in it.
    """

    first: date | None
    by_limit: int
    seen: int
    events: int = 0

    @property
    def cables(self):
        return self.by_limit + self.seen


@dataclass(frozen=True)
class ComingDue:
    """`months`: what is due already, the rest of this month, and so many months more.

    `usual`: cables a month that came out over the last year; 0 where none did.
    """

    months: tuple[MonthDue, ...]
    usual: float

    @property
    def cables(self):
        return sum(month.cables for month in self.months)

    @property
    def highest(self):
        """The month ahead in which most falls due, the first of several; None where nothing does."""
        ahead = [month for month in self.months if month.first and month.cables]
        return max(ahead, key=lambda month: month.cables, default=None)


def coming_due(rows, on):
    """`ComingDue` of these assessed segments; three queries, however many there are."""
    end = months_after(first_of_month(on), MONTHS_AHEAD + 1)
    counts = _due_counts(rows.filter(due_on__lt=end), on)
    events = _planned_events(on, end)
    firsts = [None, on, *(months_after(first_of_month(on), ahead) for ahead in range(1, MONTHS_AHEAD + 1))]
    months = (_month(first, counts, events) for first in firsts)
    return ComingDue(tuple(months), _came_out(on) / 12)


def _month(first, counts, events):
    key = first and first_of_month(first)
    return MonthDue(first, counts[key][True], counts[key][False], events[key])


def _due_counts(rows, on):
    """{first day of the month, None for what is due already: {whether by a limit alone: segments}}"""
    counts = defaultdict(Counter)
    grouped = rows.order_by().annotate(month=TruncMonth("due_on")).values_list("month", "cause")
    counted = grouped.annotate(
        already=Count("pk", filter=Q(due_on__lte=on)), ahead=Count("pk", filter=Q(due_on__gt=on))
    )
    for month, cause, already, ahead in counted:
        counts[None][cause in BY_LIMIT] += already
        counts[month][cause in BY_LIMIT] += ahead
    return counts


def _planned_events(on, end):
    planned = UsageEvent.objects.still_planned(on).filter(event__starts_on__lt=end).order_by()
    grouped = planned.annotate(month=TruncMonth("event__starts_on")).values_list("month")
    return Counter(dict(grouped.annotate(events=Count("event", distinct=True))))


def _came_out(on):
    return Fitting.objects.filter(removed_on__gt=on - timedelta(days=365), removed_on__lte=on).count()
