"""Loans: mats that are away for a season, or that count for several events, and how many that probably were.

Nothing marks a loan but what is known of it anyway, so one that came in from files is known as well.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q

from ..choices import UsageBasis, UsageState
from ..models import UsageEvent
from ..models.usage import REST_OF_MONTH
from .seen import mark_of

LONGER_THAN_DAYS = 14
YEAR = timedelta(days=365)


@dataclass(frozen=True)
class LoanAsked:
    """A loan whose mats are still planned; `counts`: mat -> the events it would have gone to at its usual rate."""

    counts: dict

    @property
    def count(self):
        """One number for all its mats: the mean of them."""
        return max(1, round(sum(self.counts.values()) / len(self.counts)))


def took_place(events, on):
    """Those that are over by the evening of that day and are no loans: what may be logged without planning anything."""
    return [
        event for event in with_loans(events, on) if event.ends_on <= on and not event.loan and not lasts_long(event)
    ]


def lasts_long(event):
    return (event.ends_on - event.starts_on).days >= LONGER_THAN_DAYS


def with_loans(events, on):
    """These events as a list, each with `loan`: a LoanAsked where it is a loan with mats still planned, else None.

    And with `seen`, which stands for the event and its planned mats in a form that answers for them. Two queries in
    all. A loan lasts longer than a fortnight, counts for several events, or is not counted one by one.
    """
    events = list(events)
    rows = _planned(events)
    loans = [event for event in events if rows[event.pk] and is_loan(event, rows[event.pk])]
    counts = _usual_counts(loans, rows, on)
    for event in events:
        event.seen = mark_of(event, rows[event.pk])
        event.loan = LoanAsked(counts[event.pk]) if event.pk in counts else None
    return events


def planned_counts(event, on):
    """The mats still planned for an event, each with how many events it would have gone to at its usual rate."""
    return _usual_counts([event], _planned([event]), on)[event.pk]


def _planned(events):
    planned = UsageEvent.objects.filter(event__in=events, state=UsageState.PLANNED).select_related("mat")
    rows = defaultdict(list)
    for row in planned.order_by("mat__number"):
        rows[row.event_id].append(row)
    return rows


def _usual_counts(loans, rows, on):
    usage = _usage_before(loans, [row.mat_id for event in loans for row in rows[event.pk]], on)
    return {
        event.pk: {row.mat: _usual_count(event, row, usage[row.mat_id]) for row in rows[event.pk]} for event in loans
    }


def is_loan(event, rows):
    """Whether these usage events of the event are a loan, by its length or by what is known of them."""
    rows = [row for row in rows if row.basis != UsageBasis.USUAL]
    if not rows or event.name == REST_OF_MONTH:
        return False
    return lasts_long(event) or any(row.counts_for > 1 or row.basis != UsageBasis.COUNTED for row in rows)


def _usage_before(loans, mat_ids, on):
    """{mat id: [(start, counts for)]} of what went in the years before these loans."""
    usage = defaultdict(list)
    if not loans:
        return usage
    first, last = min(event.starts_on for event in loans), max(event.starts_on for event in loans)
    went = Q(state=UsageState.WENT, event__starts_on__gte=_year_before(first), event__starts_on__lt=last)
    rows = UsageEvent.objects.counted(on).filter(went, mat__in=mat_ids).order_by()
    for mat_id, starts_on, counts_for in rows.values_list("mat", "event__starts_on", "counts_for"):
        usage[mat_id].append((starts_on, counts_for))
    return usage


def _usual_count(event, row, usage):
    """What was assumed when it was planned; else the rate of the year before the loan over its length, 1 at least."""
    if row.counts_for > 1:
        return row.counts_for
    since = _year_before(event.starts_on)
    year = sum(count for starts_on, count in usage if since <= starts_on < event.starts_on)
    return max(1, round(year * ((event.ends_on - event.starts_on).days + 1) / YEAR.days))


def _year_before(day):
    return day - min(YEAR, day - date.min)
