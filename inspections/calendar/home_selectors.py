"""When mats are away, and what they are planned for: as far as events say it."""

from collections import defaultdict

from fleet.models import MatDay, UsageEvent


def days_away(mat_ids, first, last):
    """{mat id: days from the first to the last on which an event has it}; one query.

    A mat of which somebody said that it came home is at home again, whatever its event still takes.
    """
    taken = MatDay.objects.filter(mat__in=mat_ids, day__range=(first, last), usage_event__home_on=None)
    away = defaultdict(set)
    for mat_id, day in taken.order_by().values_list("mat", "day"):
        away[mat_id].add(day)
    return away


def planned_events(mat_ids, on):
    """{mat id: its planned events that have not begun, in the order of their days}; one query.

    One that begins today has begun.
    """
    planned = UsageEvent.objects.still_planned(on).filter(mat__in=mat_ids, event__starts_on__gt=on)
    events = defaultdict(list)
    for row in planned.select_related("event").order_by("event__starts_on", "event__code"):
        events[row.mat_id].append(row.event)
    return events


def should_be_back(mat_ids, on):
    """{mat id: the last day of the event from which nobody said that it came home}; one query."""
    rows = UsageEvent.objects.should_be_back(on).filter(mat__in=mat_ids)
    return dict(rows.order_by("event__ends_on").values_list("mat", "event__ends_on"))
