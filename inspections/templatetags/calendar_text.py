"""What the calendar says, in words: `{% load calendar_text %}{{ work|why_late:on }}  {{ work|home_in_words }}`."""

from datetime import timedelta

from django import template

from fleet.figures import short_day
from fleet.parsing.counts import counted
from fleet.parsing.day_words import days_in_words

register = template.Library()

WHY_LATE = {
    "no work days": "nobody works there until then",
    "away": "not at home on a day of work until then",
    "home too short": "not at home long enough for {cables}",
    "no room": "the days until then are taken by other mats",
    "order too late": "its work order is planned for {day}",
}


@register.filter
def why_late(work):
    """Why it is not ready for its event, behind its name; "" where it is."""
    if not work.is_late:
        return ""
    words = WHY_LATE[work.hindrance]
    return words.format(cables=counted(work.cables, "cable"), day=short_day(work.first_day))


@register.filter
def home_in_words(work):
    """The days at home before its event: 30 Nov to 4 Dec and 7 Dec 2026; not at all."""
    spans = ((first, (last - first).days) for first, last in work.home)
    days = [first + timedelta(days=number) for first, length in spans for number in range(length + 1)]
    return days_in_words(days) if days else "not at all"


@register.filter
def table_days(work):
    """The days on the table: 1 Dec 2026; 1 to 2 Dec 2026; "" where none were found."""
    return days_in_words([day for day, _ in work.shares]) if work.shares else ""


@register.filter
def cables_of(item):
    """What of it is done on a day, of (MatWork, cables): 3 cables; 3 of 8 cables."""
    work, cables = item
    if cables == work.cables:
        return counted(cables, "cable")
    return f"{cables} of {counted(work.cables, 'cable')}"


@register.filter
def is_first_day(item, day):
    return item[0].first_day == day
