"""Where cables are measured though the policy says that there is no bench."""

from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Count, Q

from fleet.models import Depot

from ..assessment.policy_in_force import current_policy
from ..models import Assessment

LATELY = timedelta(days=365)
# a few readings may have come from somewhere else
MANY = 0.25


@dataclass(frozen=True)
class BenchNotSaid:
    """`depot` None: the pool, for mats of no depot and of depots that follow it. `measured` in the last year."""

    depot: Depot | None
    measured: int
    cables: int


def benches_not_said(on):
    """Depots, or the pool, of whose cables a quarter or more were measured lately though they are to have no bench."""
    policy, lately = current_policy(), Q(measured_on__gt=on - LATELY)
    by_depot = Assessment.objects.order_by().values_list("mat__depot")
    found = {}
    for depot_id, cables, measured in by_depot.annotate(cables=Count("pk"), lately=Count("pk", filter=lately)):
        if not policy.has_bench(depot_id):
            place = depot_id if policy.has_own("has_bench", depot_id) else None
            before = found.get(place, (0, 0))
            found[place] = before[0] + measured, before[1] + cables
    depots = Depot.objects.in_bulk([place for place in found if place])
    return [
        BenchNotSaid(depots.get(place), measured, cables)
        for place, (measured, cables) in found.items()
        if measured and measured >= MANY * cables
    ]
