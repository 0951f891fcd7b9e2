"""An event that comes back: repeat it until a day, end that early. One transaction, set-wise."""

from datetime import timedelta

from django.core.exceptions import ValidationError
from django.db import transaction

from ..choices import UsageState
from ..figures import short_day
from ..models import EventSeries, Mat, UsageEvent
from ..selectors.usage import next_free_series_code
from .events import add_events_alike
from .locks import hold, hold_all, hold_pool
from .series_days import left_out_of
from .settling import CALLED_OFF, check_in_use, check_seen, lock_event, store_usage

MOST_REPEATS = 160


def repeat_event(event, *, every_weeks, until, by, on, seen_version=None, confirmed=""):
    """Repeat an event every few weeks up to that day, planned for the mats that go to it now; returns the series.

    Raises ValidationError: it has a series already, no week or too many until that day, a mat withdrawn; DatesTaken
    where a mat goes elsewhere on one of the days, unless `confirmed` says that those weeks, or the mats, are left out.
    `seen_version`: the `going_mark` of the page; refused where it no longer holds.
    """
    with transaction.atomic():
        hold_pool()
        going = event.usage_events.exclude(state=UsageState.CALLED_OFF)
        event = lock_event(event)
        if event.series_id:
            raise ValidationError(f"{event} is one of a series already. Change the series, or end it first.")
        rows = list(going.select_related("mat"))
        check_seen(event, rows, seen_version)
        series = _add_series(event, every_weeks, until, by)
        starts, left_out = _free_starts(series, event, rows, confirmed)
        events = _add_repeats(series, event, starts, by)
        check_in_use(events[-1], [row.mat_id for row in rows])
        event.correct(by=by, reason="repeated", series=series)
        store_usage([(row, {}) for row in _plan(events, rows, left_out, by)], by=by, on=on, reason="repeated")
    return series


def _plan(events, rows, left_out, by):
    """For each of these new events a new usage event for each mat of the usage events `rows`, counting for as much."""
    return [
        UsageEvent(event=event, mat_id=row.mat_id, state=UsageState.PLANNED, counts_for=row.counts_for, recorded_by=by)
        for event in events
        for row in rows
        if not left_out.takes(event.starts_on, row.mat_id)
    ]


def end_series(series, *, last_day, by, on, reason="", seen_version=None):
    """End a series early: what starts after that day and is not over is called off; returns how many events were.

    Weeks changed alone are called off too; what went stays. Raises ValidationError for a day outside the series.
    """
    with transaction.atomic():
        hold(series)
        if not series.starts_on <= last_day < series.until:
            day = f"{short_day(series.starts_on)} and before {short_day(series.until)}"
            raise ValidationError({"last_day": f"Write a day not before {day}."})
        rows = _lock_planned(series.events.filter(starts_on__gt=last_day, ends_on__gte=on))
        store_usage([(row, CALLED_OFF) for row in rows], by=by, on=on, reason="the series ends early")
        series.correct(by=by, reason=reason, seen_version=seen_version, until=last_day)
    return len({row.event_id for row in rows})


def _lock_planned(events):
    """The usage events still planned for these events, with the events and their mats held until the end."""
    events = hold_all(events)
    hold_all(Mat.objects.filter(pk__in=UsageEvent.objects.filter(event__in=events).values("mat")))
    planned = UsageEvent.objects.filter(event__in=events, state=UsageState.PLANNED)
    return list(planned.select_related("event").order_by("pk"))


def _add_series(event, every_weeks, until, by):
    length_days = (event.ends_on - event.starts_on).days + 1
    series = EventSeries(
        code=next_free_series_code(event.starts_on.year),
        name=event.name,
        starts_on=event.starts_on,
        until=until,
        every_weeks=every_weeks,
        length_days=length_days,
        recorded_by=by,
    )
    series.full_clean()
    if len(series.starts()) < 2:
        following = event.starts_on + timedelta(weeks=every_weeks)
        raise ValidationError({"until": f"The next one would be on {short_day(following)}, after that day."})
    if len(series.starts()) > MOST_REPEATS:
        raise ValidationError(
            {"until": f"These are {len(series.starts())} events. Plan at most {MOST_REPEATS} at once."}
        )
    series.save()
    return series


def _free_starts(series, event, rows, confirmed):
    """(first days of the repeats, what is left out of them)."""
    length = timedelta(days=series.length_days - 1)
    starts = series.starts()[1:]
    left_out = left_out_of(
        {start: start + length for start in starts},
        [row.mat_id for row in rows],
        name=event.name,
        place=event.place,
        confirmed=confirmed,
        apart_from=[event.pk],
    )
    free = [start for start in starts if start not in left_out.weeks]
    if not free:
        raise ValidationError("No week is left to repeat it in.")
    return free, left_out


def _add_repeats(series, event, starts, by):
    return add_events_alike(
        starts, by=by, length_days=series.length_days, name=event.name, place=event.place, series=series
    )
