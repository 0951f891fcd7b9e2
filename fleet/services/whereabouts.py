"""Mats come home from an event."""

from django.core.exceptions import ValidationError
from django.db import transaction

from ..figures import short_day
from ..models import UsageEvent
from ..parsing.day_words import days_in_words
from ..selectors.whereabouts import awaited_at
from .corrections import correct_alike
from .settling import check_seen, lock_event


def say_home(event, *, by, on, home_on, but=(), seen_version=None):
    """All mats that are awaited from the event came home on that day, `but` those of these numbers; returns them.

    None is awaited: [], so that a second tap does no harm. Raises ValidationError for a day before the event or after
    today, where none is left, and where `seen_version`, the mark of the mats awaited, no longer holds.
    """
    with transaction.atomic():
        event = lock_event(event)
        check_home_on(event, home_on, on)
        rows = awaited_at(event, on)
        if not rows:
            return []
        check_seen(event, rows, seen_version)
        home = [row for row in rows if row.mat.number not in but]
        if not home:
            raise ValidationError("Untick the mats that came home.")
        correct_alike(home, by=by, reason="came home", home_on=home_on)
    return [row.mat for row in home]


def check_home_on(event, home_on, on):
    """ValidationError unless mats of the event can have come home on that day; None: nobody said."""
    if home_on is not None and not event.starts_on <= home_on <= on:
        left = short_day(event.starts_on)
        raise ValidationError({"home_on": f"They left on {left}: write a day from then up to today."})


def check_none_home_before(starts):
    """ValidationError where mats came home before the event is to start; `starts`: event -> its new first day."""
    home = UsageEvent.objects.filter(event__in=list(starts), home_on__isnull=False).select_related("event")
    before = [row for row in home if row.home_on < starts[row.event]]
    if before:
        days = days_in_words([row.home_on for row in before])
        raise ValidationError(f"Mats came home from {before[0].event} on {days}. Correct that first, on its page.")
