"""The due list: which segments are due, by urgency, narrowed by what the keeper asks for."""

from collections import Counter

from django.db.models import Case, Count, F, Min, OuterRef, Q, Subquery, When
from django.db.models.functions import Coalesce

from fleet.models import Depot, Mat, UsageEvent
from fleet.models.segments import of_length

from ..models import Assessment
from ..numeric.words import DUE, Cause, Status

EVERY_STATUS = "all"
NO_PLAN = (None, None, None)


def due_list(*, depot=None, owner="", cause="", status="", lengths=(), until=None):
    """Assessed segments by urgency; without a status all that ask for something, so none that is ok.

    `lengths` are (from, to) in metres, any of which may fit. `until`: due by that day, whatever the status.
    """
    rows = Assessment.objects.by_urgency()
    if depot:
        rows = rows.filter(mat__depot=depot)
    if owner:
        rows = rows.filter(mat__owner=owner)
    if cause:
        rows = rows.filter(_of_cause(cause))
    if lengths:
        rows = rows.filter(_any_length(lengths))
    if until:
        rows = rows.filter(due_on__lte=until)
    return _of_status(rows, status, until)


def _of_status(rows, status, until):
    if status == EVERY_STATUS or (until and not status):
        return rows
    return rows.of_status(Status(status)) if status else rows.filter(urgency__lt=Status.OK.order)


def _of_cause(cause):
    """It leads, or it is reached beside another one; of damage any open fault."""
    if cause == Cause.DAMAGE:
        return Q(damage_due_on__isnull=False)
    reached = Q(**{f"{cause}_due_on__lte": F("assessed_on")})
    if cause in (Cause.AGE, Cause.EVENTS):
        reached &= Q(**{f"{cause}_applies": True})
    return reached | Q(cause=cause)


def _any_length(lengths):
    fits = Q()
    for low_m, high_m in lengths:
        fits |= of_length(low_m, high_m, segment="segment")
    return fits


def due_rows(rows, on):
    """Adds what a row shows beside the assessment: the register, and what is planned for its mat."""
    return with_plans(rows.with_register(), on)


def with_plans(rows, on):
    """Adds the mat's next planned event and the open order.

    `needed_on`: the day of the event that decides, else of the next one.
    """
    planned = UsageEvent.objects.still_planned(on).filter(mat=OuterRef("mat"))
    planned = planned.order_by("event__starts_on", "event__code")
    rows = rows.annotate(
        next_event_code=Subquery(planned.values("event__code")[:1]),
        next_event_name=Subquery(planned.values("event__name")[:1]),
        next_event_on=Subquery(planned.values("event__starts_on")[:1]),
    )
    decides = When(urgency=Status.CHANGE_BEFORE.order, then=F("before_event__starts_on"))
    rows = rows.annotate(needed_on=Coalesce(Case(decides), F("next_event_on")))
    return rows.with_open_order(on)


def next_plans(mat_ids, on):
    """{mat id: (code, name, start) of the event for which it is planned next}; two queries, whatever is planned."""
    planned = UsageEvent.objects.still_planned(on).filter(mat__in=mat_ids)
    first = dict(planned.order_by().values_list("mat").annotate(day=Min("event__starts_on")))
    on_these_days = planned.filter(event__starts_on__in=set(first.values()))
    # of several on one day that of the lowest code is written last
    rows = on_these_days.order_by("-event__code").values_list("mat", "event__code", "event__name", "event__starts_on")
    return {mat: (code, name, day) for mat, code, name, day in rows if day == first[mat]}


def count_assessed():
    """All segments that are fitted in mats in use."""
    return Assessment.objects.count()


def counts_by_status(rows=None):
    """{status: number of segments} for all six statuses, in one query."""
    return counts_and_kinds(rows)[0]


def counts_and_kinds(rows=None):
    """(`counts_by_status`, `kinds_to_change_now`) of the same rows, in one query for both."""
    rows = Assessment.objects.all() if rows is None else rows
    counts, kinds = dict.fromkeys(Status, 0), Counter()
    for urgency, cause, segments in rows.order_by().values_list("urgency", "cause").annotate(segments=Count("*")):
        status = Status.of_order(urgency)
        counts[status] += segments
        if status == Status.CHANGE_NOW:
            kinds[Cause(cause).gravity] += segments
    return counts, kinds


def kinds_to_change_now(rows=None):
    """{gravity of the leading cause: number of segments} of those to change now, in one query."""
    rows = Assessment.objects.all() if rows is None else rows
    now = rows.of_status(Status.CHANGE_NOW).order_by()
    kinds = Counter()
    for cause, segments in now.values_list("cause").annotate(segments=Count("*")):
        kinds[Cause(cause).gravity] += segments
    return kinds


def rows_of_mats(mats):
    """Every assessed segment of these mats, by mat and position."""
    return Assessment.objects.filter(mat__in=mats).order_by("mat__number", "position")


def due_segment_ids(mats, on):
    """Segments to change in these mats that stand on no open order yet."""
    return _on_no_order(rows_of_mats(mats).of_status(*DUE), on)


def free_segment_ids(mats, on):
    """All segments in these mats that stand on no open order yet."""
    return _on_no_order(rows_of_mats(mats), on)


def _on_no_order(rows, on):
    return list(rows.with_open_order(on).filter(open_order=None).values_list("segment", flat=True))


def mats_of_segments(segments, also=()):
    """The mats in which these segments are assessed, and `also` these."""
    return Mat.objects.filter(Q(assessments__segment__in=segments) | Q(pk__in=also)).distinct()


def depots_with_mats(on):
    return Depot.objects.filter(mats__in=Mat.objects.in_use(on)).distinct()


def owners_of_mats(on):
    owners = Mat.objects.in_use(on).exclude(owner="").order_by("owner").values_list("owner", flat=True)
    return list(owners.distinct())
