"""This week of a series and the ones that follow are changed together."""

from dataclasses import dataclass
from datetime import timedelta
from itertools import product

from django.core.exceptions import ValidationError
from django.db import transaction

from ..choices import UsageState
from ..figures import short_day
from ..limits import EVENT_DAY
from ..models import Event, Mat, UsageEvent
from ..selectors.series import later_weeks
from .corrections import correct_each
from .locks import hold_pool
from .series_days import left_out_of
from .settling import CALLED_OFF, check_in_use, check_seen, store_usage
from .whereabouts import check_none_home_before

FOLLOWS = "the rest of the series follows"
PLANNED = {"state": UsageState.PLANNED}


@dataclass(frozen=True)
class WeekValues:
    """What each week is to be. `weekday`: 0 is Monday; an event moves within its own week."""

    name: str
    place: str
    weekday: int
    length_days: int
    mats: tuple[Mat, ...]

    def span_of(self, event):
        """First and last day; ValidationError for an event of before there were limits, at an end of the calendar."""
        EVENT_DAY.check(event.starts_on)
        starts_on = event.starts_on + timedelta(days=self.weekday - event.starts_on.weekday())
        return starts_on, starts_on + timedelta(days=self.length_days - 1)

    def of_event(self, event):
        starts_on, ends_on = self.span_of(event)
        values = {"name": self.name, "place": self.place, "starts_on": starts_on, "ends_on": ends_on}
        return values | {"changed_alone": False}


@dataclass(frozen=True)
class Following:
    """The events that were changed, and those skipped: changed alone before, or with a day that is taken."""

    changed: tuple[Event, ...]
    skipped: tuple[Event, ...]


def change_following(event, values, *, by, on, reason="", seen_version=None, confirmed=""):
    """Change an event of a series and the later ones to the same `values` (WeekValues); returns the Following.

    Left alone: weeks that are over or went, and later ones changed alone. Raises ValidationError for a mat withdrawn,
    a day before today, events that would overlap; DatesTaken where a day is taken, unless `confirmed` has its
    fingerprint. `seen_version`: the `planned_mark` of the page; refused where it no longer holds.
    """
    reason = reason or FOLLOWS
    with transaction.atomic():
        hold_pool()
        weeks = _weeks_of(event, on)
        event = _check_asked(event, weeks, values, seen_version)
        follow = [week for week in weeks if week == event or not week.changed_alone]
        changed, left_out = _free_weeks(follow, values, on, confirmed)
        check_none_home_before({week: values.span_of(week)[0] for week in changed})
        check_in_use(changed[-1], [mat.pk for mat in values.mats])
        correct_each([(week, values.of_event(week)) for week in changed], by=by, reason=reason)
        _correct_series(event.series, changed, values, by, reason)
        store_usage(_usage_of_weeks(event, changed, values, left_out, by), by=by, on=on, reason=reason)
    return Following(tuple(changed), tuple(week for week in weeks if week not in changed))


def _weeks_of(event, on):
    """The weeks as stored."""
    if event.series_id is None:
        raise ValidationError(f"{event} belongs to no series.")
    return list(later_weeks(event, on).select_related("series"))


def _check_asked(event, weeks, values, seen_version):
    stored = next((week for week in weeks if week == event), None)
    if stored is None:
        raise ValidationError(f"{event} is over or went: choose a later week of the series.")
    check_seen(stored, stored.usage_events.filter(state=UsageState.PLANNED).select_related("mat"), seen_version)
    if values.length_days > 7 * stored.series.every_weeks:
        raise ValidationError({"length_days": "It would still be running when the next one begins. Make it shorter."})
    return stored


def _free_weeks(follow, values, on, confirmed):
    """(the weeks that are changed, what is left out of them)."""
    starts = {week: values.span_of(week)[0] for week in follow}
    if min(starts.values()) < on:
        first = min(starts.values())
        raise ValidationError(
            {"weekday": f"The first would be on {short_day(first)}, before today: choose a later week."}
        )
    left_out = left_out_of(
        dict(values.span_of(week) for week in follow),
        [mat.pk for mat in values.mats],
        name=values.name,
        place=values.place,
        confirmed=confirmed,
        apart_from=[week.pk for week in follow],
    )
    free = [week for week in follow if starts[week] not in left_out.weeks]
    if not free:
        raise ValidationError("No week is left to change.")
    return free, left_out


def _usage_of_weeks(event, changed, values, left_out, by):
    """(usage event, {field: value}) that plan the mats for each week and call the others off."""
    stored = UsageEvent.objects.filter(event__in=changed).order_by("pk")
    rows = {(row.event_id, row.mat_id): row for row in stored}
    counts_for = {mat_id: row.counts_for for (event_id, mat_id), row in rows.items() if event_id == event.pk}
    wanted = {
        (week.pk, mat.pk): mat
        for week, mat in product(changed, values.mats)
        if not left_out.takes(values.span_of(week)[0], mat.pk)
    }
    for place, mat in wanted.items():
        if place not in rows:
            rows[place] = UsageEvent(mat=mat, counts_for=counts_for.get(mat.pk, 1), recorded_by=by)
    weeks = {week.pk: week for week in changed}
    for (event_id, _), row in rows.items():
        row.event = weeks[event_id]
    return [(row, PLANNED if place in wanted else CALLED_OFF) for place, row in rows.items()]


def _correct_series(series, changed, values, by, reason):
    """The rule follows its events; moved within a week, the last one may start after the day it ran until."""
    until = max(series.until, *(week.starts_on for week in changed))
    series.correct(by=by, reason=reason, name=values.name, length_days=values.length_days, until=until)
