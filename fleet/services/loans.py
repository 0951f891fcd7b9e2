"""A loan comes back: how many events its mats went to meanwhile."""

from django.core.exceptions import ValidationError
from django.db import transaction

from ..choices import UsageState
from ..figures import short_day
from .corrections import correct_alike
from .events import correct_event
from .settling import UsageValues, check_seen, lock_event
from .usage import log_event


def take_back_loan(event, counts, *, basis, by, on, back_on=None, seen_version=None, confirmed=""):
    """Its mats went, each for so many events; `counts`: mat -> events. Returns how many mats were answered.

    `back_on`: the day they came back, where it is not the last day of the event; the event then ends on it. From that
    day on they are home. Hours and folds known before stay. Mats answered already are left: a second tap does no harm.
    Raises as `log_event` does, and where `seen_version`, the `planned_mark` of the page, no longer holds.
    """
    with transaction.atomic():
        stored = lock_event(event, counts)
        planned = stored.usage_events.filter(state=UsageState.PLANNED).select_related("mat")
        if planned:
            check_seen(stored, planned, seen_version)
        if back_on and back_on != event.ends_on:
            _end_event(event, back_on, by=by, on=on, confirmed=confirmed)
        usage = {row.mat: _went(row, counts[row.mat], basis) for row in planned if row.mat in counts}
        rows = log_event(event, usage, by=by, on=on, confirmed=confirmed)
        home = [row for row in rows if row.home_on is None]
        correct_alike(home, by=by, reason="the loan came back", home_on=back_on or event.ends_on)
    return len(rows)


def _went(row, counts_for, basis):
    return UsageValues(UsageState.WENT, counts_for, basis, row.hours_out, row.fold_cycles)


def _end_event(event, back_on, *, by, on, confirmed):
    if not event.starts_on <= back_on <= on:
        first = f"{short_day(event.starts_on)}"
        raise ValidationError({"back_on": f"They went out on {first}: write a day from then up to today."})
    correct_event(event, by=by, on=on, reason="the loan came back", confirmed=confirmed, ends_on=back_on)
