"""Where cables are measured though the policy says that there is no bench."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Count, Q

from fleet.models import Depot

from ..assessment.policy_in_force import current_policy
from ..models import Assessment

LATELY = timedelta(days=365)
# a few readings may have come from somewhere else, so a place is asked at its first ones, and again when they are many
FIRST = timedelta(days=7)
MANY = 0.25


@dataclass(frozen=True)
class BenchNotSaid:
    """`depot` None: the pool, for mats of no depot and of depots that follow it. `measured` in the last year."""

    depot: Depot | None
    measured: int
    cables: int


def benches_not_said(on):
    """Depots, or the pool, that are to have no bench, and whose cables were measured for the first time in the last
    days, or a quarter or more of them in the last year.
    """
    policy, found = current_policy(), defaultdict(list)
    for depot_id, *numbers in _measured_by_depot(on):
        if not policy.has_bench(depot_id):
            found[depot_id if policy.has_own("has_bench", depot_id) else None].append(numbers)
    depots = Depot.objects.in_bulk([place for place in found if place])
    offered = []
    for place, numbers in found.items():
        cables, lately, earlier = (sum(column) for column in zip(*numbers, strict=True))
        if lately and (not earlier or lately >= MANY * cables):
            offered.append(BenchNotSaid(depots.get(place), lately, cables))
    return offered


def _measured_by_depot(on):
    """(depot, cables, those measured in the last year, those measured before the last days) of each depot."""
    return (
        Assessment.objects.order_by()
        .values_list("mat__depot")
        .annotate(
            cables=Count("pk"),
            lately=Count("pk", filter=Q(measured_on__gt=on - LATELY)),
            earlier=Count("pk", filter=Q(measured_on__lte=on - FIRST)),
        )
    )
