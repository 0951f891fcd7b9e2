"""Cables of which nothing on record says that they are OK: their age, or any date, is not known."""

from dataclasses import dataclass

from django.db.models import Count, Q

from fleet.choices import FittedBasis

from ..models import Assessment
from ..numeric.words import PRESSING, Status

AGE_NOT_KNOWN = Q(age_basis=FittedBasis.NOT_LATER_THAN)


@dataclass(frozen=True)
class UnknownCables:
    """How many there are: `of_age` were fitted nobody knows when, `others` have no date for another reason."""

    of_age: int
    others: int

    @property
    def total(self):
        return self.of_age + self.others


def are_unknown():
    """The condition: of unknown age and never measured, or of status *unknown*; also where they are to be changed."""
    return Q(urgency=Status.UNKNOWN.order) | AGE_NOT_KNOWN & Q(measured_on=None)


def unknown_cables():
    """Those of which it is so; but for those that are to be changed anyhow."""
    return Assessment.objects.filter(are_unknown()).exclude(urgency__in=[status.order for status in PRESSING])


def count_unknown():
    counts = unknown_cables().aggregate(total=Count("pk"), of_age=Count("pk", filter=AGE_NOT_KNOWN))
    return UnknownCables(counts["of_age"], counts["total"] - counts["of_age"])
