"""How often a mat went, month by month: what is logged, what is usual, and what somebody said in all."""

import hashlib
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.db.models import Count, Min

from ..choices import UsageBasis, UsageState
from ..models import UsageEvent
from ..models.usage import REST_OF_MONTH

# this month as far as it has come, and the twelve before it
MONTHS_SHOWN = 13
YEAR_DAYS, YEAR_MONTHS = 365, 12


@dataclass
class MonthOfUse:
    """`logged`: usage events that count, without usual use and without `rest`, which says what they lack.

    `usual` and `rest` are usage events in any state, or None. `usual_counts`: it does not give way.
    """

    first: date
    logged: list = field(default_factory=list)
    usual: UsageEvent | None = None
    usual_counts: bool = False
    rest: UsageEvent | None = None

    @property
    def logged_count(self):
        return sum(row.counts_for for row in self.logged)

    @property
    def rest_count(self):
        return self.rest.counts_for if is_in_force(self.rest) else 0

    @property
    def in_all(self):
        """How often it went as far as that is on record; None where only usual use says anything, or nothing does."""
        known = self.logged_count + self.rest_count
        said_none = self.usual is not None and not is_in_force(self.usual)
        return known or (0 if said_none else None)


def is_in_force(row):
    """Whether what the usage event says, where there is one, was not called off."""
    return row is not None and row.state == UsageState.WENT


def first_of_month(day):
    return day.replace(day=1)


def months_before(first, number):
    """The first day of the month so many months before that one; negative: after it."""
    year, month = divmod(first.year * 12 + first.month - 1 - number, 12)
    return date(year, month + 1, 1)


def usual_by_month(mat, since):
    """{first of month: its usual use} of what starts on that day or later; of several the one that counts."""
    rows = mat.usage_events.usual().filter(event__starts_on__gte=since).select_related("event")
    return {first_of_month(row.event.starts_on): row for row in sorted(rows, key=_weight)}


def months_of_use(mat, on, last):
    """The months up to that of `last`, newest first, as they are known on the day `on`."""
    firsts = [months_before(first_of_month(last), number) for number in range(MONTHS_SHOWN)]
    rows = mat.usage_events.filter(
        event__starts_on__gte=firsts[-1], event__starts_on__lt=months_before(firsts[0], -1)
    ).select_related("event")
    counted = set(rows.counted(on).values_list("pk", flat=True))
    months = {first: MonthOfUse(first) for first in firsts}
    for row in sorted(rows, key=_weight):
        _sort_in(months[first_of_month(row.event.starts_on)], row, row.pk in counted)
    return list(months.values())


def _weight(row):
    return row.state == UsageState.WENT, row.counts_for, row.event.starts_on


def _sort_in(month, row, counts):
    if row.basis == UsageBasis.USUAL:
        month.usual, month.usual_counts = row, counts
    elif row.basis == UsageBasis.REPORTED and row.event.name == REST_OF_MONTH:
        month.rest = row
    elif counts:
        month.logged.append(row)


def mark_of_months(mat, months):
    """Stands for what a page showed of these months."""
    rows = [row for month in months for row in (*month.logged, month.usual, month.rest) if row]
    versions = sorted((row.pk, row.version, row.event.version) for row in rows)
    return hashlib.sha256(repr((mat.pk, versions)).encode()).hexdigest()[:16]


def first_counted(on):
    """The first of the days that a mat's rate of a year is taken from."""
    return on - timedelta(days=YEAR_DAYS - 1)


def usual_times_a_year(mat, on):
    """How often it usually goes out, as was said last; None where nobody said."""
    rows = usual_by_month(mat, first_of_month(first_counted(on))).values()
    return sum(row.counts_for for row in rows if is_in_force(row)) if rows else None


def fewest_usual_months():
    """In how many months the mat has usual use that has it in the fewest; None where no mat has any."""
    by_mat = UsageEvent.objects.usual().order_by().values("mat").annotate(months=Count("pk"))
    return by_mat.aggregate(fewest=Min("months"))["fewest"]


@dataclass(frozen=True)
class UsualUse:
    """Of one mat: how many events of it count, and how many gave way. `sparse`: it leaves out months of the year."""

    counts: int
    given_way: int
    sparse: bool

    def __bool__(self):
        return bool(self.counts or self.given_way)


def usual_use_among(rows):
    """The UsualUse of these usage events of a mat, read with `gives_way`."""
    usual = [row for row in rows if row.basis == UsageBasis.USUAL]
    counts, given_way = (
        sum(row.counts_for for row in usual if is_in_force(row) and row.gives_way == gives_way)
        for gives_way in (False, True)
    )
    return UsualUse(counts, given_way, sparse=len(usual) < YEAR_MONTHS)
