"""How often a mat went, month by month: what is logged, what is usual, and what somebody said in all."""

import hashlib
from dataclasses import dataclass, field
from datetime import date

from ..choices import UsageBasis
from ..models import UsageEvent
from ..models.usage import REST_OF_MONTH
from ..months import first_of_month, months_after
from .usual_use import in_force_last, is_in_force

# this month as far as it has come, and the twelve before it
MONTHS_SHOWN = 13


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


def months_of_use(mat, on, last):
    """The months up to that of `last`, newest first, as they are known on the day `on`."""
    firsts = [months_after(last, -number) for number in range(MONTHS_SHOWN)]
    shown = {"event__starts_on__gte": firsts[-1], "event__starts_on__lt": months_after(last, 1)}
    rows = mat.usage_events.filter(**shown).select_related("event")
    counted = set(rows.counted(on).values_list("pk", flat=True))
    months = {first: MonthOfUse(first) for first in firsts}
    for row in sorted(rows, key=in_force_last):
        _sort_in(months[first_of_month(row.event.starts_on)], row, row.pk in counted)
    return list(months.values())


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
