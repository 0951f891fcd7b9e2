"""Whether this computer's clock can be right: nothing in the pool was written after now."""

from datetime import timedelta

from django.utils import timezone

from fleet.figures import short_day
from fleet.models import Event, Fitting, UsageEvent

from ..models import Measurement, WorkOrder
from .newest import newest_backup_ahead

# a clock set by hand, or to another zone, is not worth a word
SLACK = timedelta(days=1)
# What is written day by day, and how many of the rows that came last are looked at: while a clock is behind, a few more
# may be written; after one was ahead, its entries give way to right ones and are not spoken of for ever.
WRITTEN = (Measurement, UsageEvent, Fitting, Event, WorkOrder)
RECENT = 20


def clock_warning(now):
    """Sentences for pages and for the start where something was written well after `now`; else empty.

    The clock is wrong then, or was ahead when that was written: nobody can tell which from the pool.
    """
    newest = newest_day_ahead(now)
    if newest is None:
        return ""
    return (
        f"This computer’s clock says {short_day(now)}. The newest entry was made on {short_day(newest)}. "
        "If the clock is wrong, set it before you enter anything."
    )


def newest_day_ahead(now):
    """The last day, well after `now`, on which something was written or copied; None as it should be."""
    moments = (model.objects.order_by("-pk").values_list("recorded_at", flat=True)[:RECENT] for model in WRITTEN)
    days = [timezone.localtime(max(rows)).date() for rows in map(list, moments) if rows]
    days.append(newest_backup_ahead(now.date()))
    return max((day for day in days if day and day > (now + SLACK).date()), default=None)
