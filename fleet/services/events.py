"""Events themselves: add one, correct one. If you change the dates, its mats move to the new dates too."""

from datetime import timedelta

from django.core.exceptions import ValidationError
from django.db import transaction

from ..choices import UsageState
from ..limits import LONGEST_EVENT_DAYS
from ..models import Event
from ..models.fields import code_key
from ..selectors.usage import free_codes, next_free_code
from .confirmation import WantsConfirmation
from .locks import hold_pool
from .rows import taken_code_refused
from .settling import UsageValues, detach, lock_event, settle
from .whereabouts import check_none_home_before

SAME = ("name", "starts_on")


def add_event(*, by, name, starts_on, ends_on=None, place="", weather="", code="", confirmed=""):
    """A new event. No last day: it lasts one. No code: the next free one of its year.

    Raises ValidationError, by field, for a code that is taken and for the same event (name, place, first day) twice;
    asks where an event of that name begins on that day at another place.
    """
    values = {"name": name, "starts_on": starts_on, "ends_on": ends_on or starts_on, "place": place, "weather": weather}
    with transaction.atomic():
        hold_pool()
        _check_length(values["starts_on"], values["ends_on"])
        _check_new(name, starts_on, place)
        _ask_of_same(name, starts_on, confirmed)
        event = Event(code=code or next_free_code(starts_on.year), recorded_by=by, **values)
        event.full_clean()
        event.save()
    return event


def add_events_alike(starts, *, by, length_days, **values):
    """Events that differ in their days and codes only, each with the next free code of its year; two queries.

    Call with the pool held.
    """
    length = timedelta(days=length_days - 1)
    events = [
        Event(code=code, recorded_by=by, starts_on=day, ends_on=day + length, **values)
        for day, code in zip(starts, free_codes(starts), strict=True)
    ]
    return Event.objects.bulk_create(events, batch_size=500)


def correct_event(event, *, by, on, reason="", seen_version=None, confirmed="", **values):
    """Correct what is known of an event; changed dates move the days of its mats.

    Raises ValidationError where the moved days cannot be (see `services.settling.settle`), DoubleBooked where they want
    the keeper's word; asks where its new name or day make it the same as another one.
    """
    becomes_another = any(values.get(field, getattr(event, field)) != getattr(event, field) for field in SAME)
    with transaction.atomic():
        if becomes_another:
            hold_pool()
            name, starts_on = (values.get(field, getattr(event, field)) for field in SAME)
            _ask_of_same(name, starts_on, confirmed, apart_from=event)
        old = lock_event(event)
        with taken_code_refused(event):
            event.correct(by=by, reason=reason, seen_version=seen_version, **values)
        if event.version != old.version:
            detach(event)
        if (event.starts_on, event.ends_on) != (old.starts_on, old.ends_on):
            _check_length(event.starts_on, event.ends_on)
            check_none_home_before({event: event.starts_on})
            _move_days(event, by, on, confirmed)
    return event


def _move_days(event, by, on, confirmed):
    rows = event.usage_events.exclude(state=UsageState.CALLED_OFF)
    given = {row: UsageValues.of(row) for row in rows}
    settle(event, given, by=by, on=on, reason="the event moved", confirmed=confirmed)


def _check_length(starts_on, ends_on):
    if (ends_on - starts_on).days >= LONGEST_EVENT_DAYS:
        raise ValidationError(
            {"ends_on": f"An event lasts at most {LONGEST_EVENT_DAYS} days. Log a longer loan as one event a season."}
        )


def _check_new(name, starts_on, place):
    there = [event for event in _same_events(name, starts_on) if code_key(event.place) == code_key(place)]
    if there:
        raise ValidationError({"name": f"This event exists already: {there[0]}. Choose it above."})


def _ask_of_same(name, starts_on, confirmed, apart_from=None):
    same = [event for event in _same_events(name, starts_on) if event != apart_from]
    if same:
        sentence = f"There is already an event of this name on that day: {', '.join(map(str, same))}."
        tick = "It is another event: save it"
        WantsConfirmation(sentence, "same_event", [sentence, str(starts_on)], tick=tick).raise_unless(confirmed)


def _same_events(name, starts_on):
    """Of that name, in capitals or not, with that first day."""
    events = Event.objects.filter(starts_on=starts_on).order_by("code")
    return [event for event in events if code_key(event.name) == code_key(name)]
