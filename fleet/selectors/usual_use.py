"""How often mats usually go out, as somebody said, and how much of that counts."""

from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Count, Min

from ..choices import UsageBasis, UsageState
from ..models import UsageEvent
from ..months import MONTHS_A_YEAR, first_of_month

YEAR_DAYS = 365


def first_counted(on):
    """The first of the days that a mat's rate of a year is taken from."""
    return on - timedelta(days=YEAR_DAYS - 1)


def is_in_force(row):
    """Whether what the usage event says, where there is one, was not called off."""
    return row is not None and row.state == UsageState.WENT


def in_force_last(row):
    """Sorts usage events of a month so that the one that counts comes last."""
    return is_in_force(row), row.counts_for, row.event.starts_on


def usual_by_month(mat, since):
    """{first of month: its usual use} of what starts on that day or later; of several the one that counts."""
    rows = mat.usage_events.usual().filter(event__starts_on__gte=since).select_related("event")
    return {first_of_month(row.event.starts_on): row for row in sorted(rows, key=in_force_last)}


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
    return UsualUse(counts, given_way, sparse=len(usual) < MONTHS_A_YEAR)
