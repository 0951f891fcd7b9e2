"""What falls due month by month, and what may be compared with it."""

from collections import Counter, defaultdict
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.db.models import Count, Q
from django.db.models.functions import TruncMonth

from fleet.models import Fitting, UsageEvent
from fleet.models.stock import kind_of
from fleet.months import first_of_month, months_after

from ..numeric.words import Cause

MONTHS_AHEAD = 24
# of age and events a keeper set the limit; the others were seen or measured, on the cable or on similar ones
BY_LIMIT = (Cause.AGE, Cause.EVENTS)


@dataclass(frozen=True)
class MonthDue:
    """Cables that fall due from that day on until the month ends; of what is due already, `first` is None.

    `by_limit`: by age or events alone. `seen`: by loss, trend or damage. `events`: planned ones that begin in it.
    `left`: of the kinds that fall due, how many lie on the shelf when it ends, if each takes one of its kind and
    nothing is bought; `missing`: how many have found none by then. None where it is not asked.
    """

    first: date | None
    by_limit: int
    seen: int
    events: int = 0
    left: int | None = None
    missing: int | None = None

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

    @property
    def knows_the_shelf(self):
        return self.months[0].left is not None

    @property
    def first_missing(self):
        """The first month by whose end a cable is missing; None where the shelf holds enough, or is not asked."""
        return next((month for month in self.months if month.missing), None)


def coming_due(rows, on, shelf=None):
    """`ComingDue` of these assessed segments; as many queries, however many there are.

    `shelf`: {(cable type, length in m): how many lie there}, where the rows are all that may take from it.
    """
    end = months_after(first_of_month(on), MONTHS_AHEAD + 1)
    counts = _due_counts(rows.filter(due_on__lt=end), on)
    events = _planned_events(on, end)
    firsts = [None, on, *(months_after(first_of_month(on), ahead) for ahead in range(1, MONTHS_AHEAD + 1))]
    months = [_month(first, counts, events) for first in firsts]
    if shelf is not None:
        months = _less_the_shelf(months, _kinds_due(rows.filter(due_on__lt=end), on), shelf)
    return ComingDue(tuple(months), _came_out(on) / 12)


def _kinds_due(rows, on):
    """{first day of the month, None for what is due already: {(cable type, length): segments}}"""
    kinds = defaultdict(Counter)
    columns = ("due_on", "segment__cable_type__name", "segment__length_m")
    grouped = rows.order_by().values_list(*columns).annotate(segments=Count("pk"))
    for due_on, name, length_m, segments in grouped:
        key = None if due_on <= on else first_of_month(due_on)
        kinds[key][kind_of(name, length_m)] += segments
    return kinds


def _less_the_shelf(months, kinds_due, shelf):
    """The months with what is left on the shelf and what is missing as each ends."""
    taken, of_kinds = Counter(), set().union(*kinds_due.values())
    for month in months:
        taken += kinds_due[month.first and first_of_month(month.first)]
        left = [shelf.get(kind, 0) - taken[kind] for kind in of_kinds]
        yield replace(month, left=sum(n for n in left if n > 0), missing=-sum(n for n in left if n < 0))


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
