"""How often a mat usually goes out, as somebody said: one usage event a calendar month until others are logged.

What gives way to what is logged is a rule of `models.usage`; here it is only stored.
"""

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F

from ..choices import UsageBasis, UsageState
from ..models import Event, UsageEvent
from ..models.usage import USUAL_USE
from ..months import MIDDLE_OF_MONTH, MONTHS_A_YEAR, first_of_month, last_of_month, months_after
from ..selectors.usual_use import first_counted, usual_by_month
from .events import add_events_alike
from .locks import hold, hold_pool
from .settling import CALLED_OFF, store_usage


def usual_days(times_a_year, on):
    """(day, counts for) in twelve calendar months, oldest first, each its even share; months without one are left out.

    The months are those from the first of the 365 days up to `on`, so that a mat's rate is what was given. The month
    of `on` is not among them while days of it are ahead: what is logged in it from now on takes nothing away of what
    was before.
    """
    first = first_counted(on)
    until = [(2 * times_a_year * month + MONTHS_A_YEAR) // (2 * MONTHS_A_YEAR) for month in range(MONTHS_A_YEAR + 1)]
    shares = [until[month + 1] - until[month] for month in range(MONTHS_A_YEAR)]
    return [(_day_in(first, month), share) for month, share in enumerate(shares) if share]


def _day_in(first, months_later):
    """The middle of that month, or its last day where the middle lies before `first`."""
    middle = months_after(first, months_later).replace(day=MIDDLE_OF_MONTH)
    return middle if middle >= first else last_of_month(middle)


def usual_use_of(mats, times_a_year, *, by, on, load=None):
    """Their usage events, not stored yet; the events they need are. Call with the pool held."""
    usual = {"basis": UsageBasis.USUAL, "state": UsageState.WENT, "recorded_by": by, "load": load}
    shares = usual_days(times_a_year, on)
    events = _events_on([day for day, _ in shares], by, load)
    return [
        UsageEvent(event=events[day], mat=mat, counts_for=counts_for, **usual)
        for day, counts_for in shares
        for mat in mats
    ]


def _events_on(days, by, load):
    """{day: the event for all mats of which usual use is known that day}; those that are missing are stored."""
    stored = Event.objects.filter(name=USUAL_USE, starts_on__in=days, ends_on=F("starts_on")).order_by("-code")
    events = {event.starts_on: event for event in stored}
    missing = [day for day in days if day not in events]
    added = add_events_alike(missing, by=by, length_days=1, name=USUAL_USE, load=load) if missing else []
    return events | {event.starts_on: event for event in added}


def say_usual_use(mat, times_a_year, *, by, on, seen_version=None):
    """For a year back from now a mat usually went out that often; returns the mat.

    What was said of these months before is corrected, and called off where nothing is left of it. Refused where the
    mat is withdrawn, or somebody changed it since `seen_version`.
    """
    with transaction.atomic():
        hold_pool()
        hold(mat)
        mat.check_version(seen_version)
        if not mat.in_use(on):
            raise ValidationError(f"{mat} is withdrawn. Take it back into use first.")
        said = usual_by_month(mat, first_of_month(first_counted(on)))
        changes = []
        for row in usual_use_of([mat], times_a_year, by=by, on=on):
            before = said.pop(first_of_month(row.event.starts_on), None)
            values = {"state": UsageState.WENT, "counts_for": row.counts_for}
            changes.append((before or row, values))
        changes += [(row, CALLED_OFF) for row in said.values()]
        store_usage(changes, by=by, on=on, reason=f"usually {times_a_year} times a year")
    return mat
