"""Where cables are measured: of most pools everywhere, so one query tells it."""

from django.db.models import Q

from fleet.models import Mat

from ..assessment.policy_in_force import Policy, current_policy
from ..models import PolicyValue


def somebody_measures():
    """Whether the depot of some mat in use has a bench; in a pool without mats, whether the pool has one."""
    rows = PolicyValue.objects.in_force().order_by().filter(setting="has_bench")
    policy = Policy(rows.values_list("setting", "design_id", "position", "depot_id", "value"))
    if all(policy.all_values("has_bench")):
        return True
    places = Mat.objects.order_by().filter(withdrawn_on=None).values_list("depot_id", flat=True).distinct()
    return any(map(policy.has_bench, list(places) or [None]))


def in_places_with_bench():
    """The condition: mats of places where cables are measured. Of all mats where there is no such place."""
    policy = current_policy()
    places = set(Mat.objects.order_by().filter(withdrawn_on=None).values_list("depot_id", flat=True))
    without = [place for place in places if not policy.has_bench(place)]
    if len(without) == len(places):
        return Q()
    measured = ~Q(depot__in=[place for place in without if place])
    return measured & Q(depot__isnull=False) if None in without else measured
