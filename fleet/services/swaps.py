"""Another mat goes in place of one that is planned."""

from django.core.exceptions import ValidationError
from django.db import transaction

from ..choices import UsageState
from ..models import Event, Mat, UsageEvent
from ..selectors.instead import free_mats, weeks_of_mat
from .locks import hold, hold_all
from .settling import CALLED_OFF, UsageValues, check_in_use, detach, lock_event, store_usage


def swap_mat(usage_event, other, *, by, on, later=False, seen_version=None):
    """Call the mat of a planned usage event off and plan `other` in its place; returns how many events that changed.

    `later`: also in the later weeks of the series, but for those changed alone; else the event is changed alone. Raises
    ValidationError: not planned any more, `other` withdrawn by then, or at an event on one of the days.
    """
    with transaction.atomic():
        events = _held_events(usage_event, other, on, later)
        usage_event.refresh_from_db()
        usage_event.check_version(usage_event.version if seen_version is None else seen_version)
        if usage_event.state != UsageState.PLANNED:
            raise ValidationError(f"{usage_event.mat.at_start} is not planned for {usage_event.event} any more.")
        check_in_use(events[-1], [other.pk])
        if not free_mats(Mat.objects.filter(pk=other.pk), events).exists():
            raise ValidationError(f"{other.at_start} is at an event on one of these days. Choose another one.")
        changes = list(_changes(events, usage_event.mat, other, by))
        store_usage(changes, by=by, on=on, reason=f"{other} goes instead of {usage_event.mat}")
        if not later:
            detach(events[0])
    return len(changes) // 2


def _held_events(usage_event, other, on, later):
    if not later:
        return [lock_event(usage_event.event, [other])]
    hold(usage_event.event.series)
    weeks = hold_all(Event.objects.filter(pk__in=[week.pk for week in weeks_of_mat(usage_event, on)]))
    hold(usage_event.mat, other)
    return sorted(weeks, key=lambda week: week.starts_on)


def _changes(events, mat, other, by):
    """What `store_usage` writes: at each of these events for which `mat` is still planned."""
    stored = UsageEvent.objects.filter(event__in=events, mat__in=[mat, other]).select_related("mat").order_by("pk")
    rows = {(row.event_id, row.mat_id): row for row in stored}
    for event in events:
        old = rows.get((event.pk, mat.pk))
        if old is None or old.state != UsageState.PLANNED:
            continue
        new = rows.get((event.pk, other.pk)) or UsageEvent(mat=other, recorded_by=by)
        old.event = new.event = event
        values = UsageValues.of(old)
        yield old, CALLED_OFF
        yield new, {"state": values.state, "counts_for": values.counts_for, "basis": values.basis}
