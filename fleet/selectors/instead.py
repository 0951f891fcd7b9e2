"""Which mats can go in place of one that is planned."""

from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q

from ..choices import UsageState
from ..models import Mat, MatDay, UsageEvent
from .series import later_weeks
from .unfit import unfit_by, with_unfit


@dataclass(frozen=True)
class Instead:
    """A mat that can go; `later`: also in all the later weeks of the series in which the other one is planned."""

    mat: Mat
    same_depot: bool
    later: bool


def weeks_of_mat(usage_event, on):
    """The week of a usage event and the later ones of its series that have its mat planned and follow the series."""
    event = usage_event.event
    if event.series_id is None:
        return [event]
    planned = UsageEvent.objects.filter(mat=usage_event.mat_id, state=UsageState.PLANNED).values("event")
    weeks = later_weeks(event, on).filter(Q(changed_alone=False) | Q(pk=event.pk), pk__in=planned)
    return list(weeks) or [event]


def mats_instead(usage_event, weeks, on):
    """`Instead` of the same design that are free on the days of the event and fit by then, same depot first.

    Those with nothing in doubt come before the others of their depot. The queries do not grow with mats or weeks.
    """
    event, mat = usage_event.event, usage_event.mat
    free = free_mats(Mat.objects.filter(design=mat.design_id).exclude(pk=mat.pk), [event])
    free = with_unfit(free.select_related("depot").order_by("depot__name", "number"), event.ends_on, on=on)
    unfit_later = unfit_by(free, weeks[-1].ends_on, on=on)
    free_later = free_mats(Mat.objects.filter(design=mat.design_id), weeks).values_list("pk", flat=True)
    later = set(free_later if len(weeks) > 1 else []) - set(unfit_later)
    fit = [other for other in free if not other.unfit]
    found = [Instead(other, other.depot_id == mat.depot_id, other.pk in later) for other in fit]
    return sorted(found, key=lambda each: (not each.same_depot, bool(each.mat.doubt)))


def free_mats(mats, events):
    """Those of these mats that are in use until the last of these events, and at no other on their days."""
    spans = Q()
    for event in events:
        spans |= Q(day__range=(event.starts_on, event.ends_on))
    taken = MatDay.objects.filter(spans, mat=OuterRef("pk"))
    return mats.in_use(events[-1].ends_on).exclude(Exists(taken))
