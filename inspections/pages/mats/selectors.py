"""The mats of the list with what their order rests on: how they stand by a day, first due, next planned."""

from django.db.models import Case, IntegerField, Min, OuterRef, Subquery, Value, When

from fleet.models import UsageEvent

from ...models import Assessment
from ...numeric.words import Status


def with_order(mats, statuses, on):
    """Adds `condition` (a number, 1 for the worst), `first_due_on` and `next_starts_on`."""
    worst_first = [
        When(pk__in=keys, then=Value(status.order)) for status in Status if (keys := statuses.of_status(status))
    ]
    due = (
        Assessment.objects.exclude(urgency=Status.MEASURE.order)
        .filter(mat=OuterRef("pk"))
        .order_by()
        .values("mat")
        .annotate(first=Min("due_on"))
    )
    planned = UsageEvent.objects.still_planned(on).filter(mat=OuterRef("pk")).order_by("event__starts_on")
    return mats.annotate(
        condition=Case(*worst_first, output_field=IntegerField()),
        first_due_on=Subquery(due.values("first")),
        next_starts_on=Subquery(planned.values("event__starts_on")[:1]),
    )


def of_status(mats, statuses, status):
    return mats.filter(pk__in=statuses.of_status(status))
