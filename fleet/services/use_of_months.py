"""How often a mat went in all in a month, as the keeper says: what the logged events lack is stored as reported."""

from datetime import timedelta

from django.core.exceptions import ValidationError
from django.db import transaction

from ..choices import UsageBasis, UsageState
from ..models import Event, MatDay
from ..models.usage import REST_OF_MONTH
from ..months import MIDDLE_OF_MONTH, last_of_month
from ..selectors.use_of_months import mark_of_months, months_of_use
from ..selectors.usual_use import is_in_force
from .events import add_event
from .locks import hold_pool
from .settling import UsageValues, lock_event, settle
from .usage import correct_usage_event

NAMED = 5


def say_months(mat, in_all, *, last, by, on, seen_version=None, confirmed=""):
    """Store how often the mat went in all; `in_all`: {first of month: number, None where nobody says}, up to `last`.

    Returns how many months changed. Refused where fewer are said than are logged, and where the months are not as
    `seen_version`, the `mark_of_months` of the page. Raises DoubleBooked where the mat was elsewhere on each
    day of a month.
    """
    with transaction.atomic():
        hold_pool()
        months = months_of_use(mat, on, last)
        if seen_version not in (None, mark_of_months(mat, months)):
            raise ValidationError(
                f"Somebody else changed the events of {mat} meanwhile. The numbers below are those of now. "
                "Look at them again before you save.",
                code="stale",
            )
        changed = [month for month in months if month.first in in_all and in_all[month.first] != month.in_all]
        _refuse_fewer_than_logged(changed, in_all)
        for month in changed:
            _say(mat, month, in_all[month.first], {"by": by, "on": on}, confirmed)
        return len(changed)


def field_of(first):
    """The name of a month in forms."""
    return f"month_{first:%Y_%m}"


def _refuse_fewer_than_logged(months, in_all):
    errors = {}
    for month in months:
        if (said := in_all[month.first]) is not None and said < month.logged_count:
            named = [f"{row.event.name} on {row.event.starts_on.day} {row.event.starts_on:%b}" for row in month.logged]
            more = f" and {len(named) - NAMED} more" if len(named) > NAMED else ""
            errors[field_of(month.first)] = (
                f"{month.logged_count} are logged already: {', '.join(named[:NAMED])}{more}. "
                f"Write {month.logged_count} or more, or correct these events first."
            )
    if errors:
        raise ValidationError(errors)


def _say(mat, month, said, who, confirmed):
    lacking = (said or 0) - month.logged_count
    reason = "the number was taken back" if said is None else f"{said} in all"
    if lacking > 0:
        _store_rest(mat, month, lacking, reason, who, confirmed)
    elif is_in_force(month.rest):
        correct_usage_event(month.rest, state=UsageState.CALLED_OFF, reason=reason, **who)
    # where something is logged, usual use gives way by itself
    state = UsageState.CALLED_OFF if said == 0 else UsageState.WENT
    if month.usual and not month.logged and month.usual.state != state:
        correct_usage_event(month.usual, state=state, reason=reason, **who)


def _store_rest(mat, month, lacking, reason, who, confirmed):
    values = UsageValues(UsageState.WENT, counts_for=lacking, basis=UsageBasis.REPORTED)
    event = month.rest.event if month.rest else _event_for(mat, month.first, who)
    event = lock_event(event, [mat])
    settle(event, {month.rest or mat: values}, reason=reason, confirmed=confirmed, **who)


def _event_for(mat, first, who):
    """An event of that month, on the day nearest to its middle on which the mat was nowhere else."""
    day = _free_day(mat, first, who["on"])
    existing = Event.objects.filter(name=REST_OF_MONTH, starts_on=day, ends_on=day).order_by("code").first()
    return existing or add_event(by=who["by"], name=REST_OF_MONTH, starts_on=day)


def _free_day(mat, first, on):
    days = [first + timedelta(days=number) for number in range(last_of_month(first).day)]
    past = sorted((day for day in days if day <= on), key=lambda day: abs(day.day - MIDDLE_OF_MONTH))
    taken = set(MatDay.objects.filter(mat=mat, day__in=past).values_list("day", flat=True))
    return next((day for day in past if day not in taken), past[0])
