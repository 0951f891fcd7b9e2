"""The plan as a calendar file (RFC 5545), for whatever program shows calendars: all-day entries, nothing to answer.

Entries keep their UID while a mat's work moves, so that a program moves them too.
"""

from datetime import timedelta
from zoneinfo import ZoneInfo

from django.utils.timezone import localdate

from fleet.figures import short_day
from fleet.selectors.pool import pool_uid

from ..templatetags.calendar_text import cables_of, home_in_words, why_late

MADE_BY = "-//Halfpower//Work on mats//EN"
NAME = "Halfpower: work on mats"
UTC = ZoneInfo("UTC")
FETCH_AGAIN = timedelta(hours=6)


def calendar_file(plans, *, now, address):
    """The bytes of the file. `address`: where the pool is reached, as https://pool.example.org."""
    # here, so that only files take the time to read it in
    from icalendar import Calendar

    calendar, uid = Calendar(), pool_uid()
    for name, value in (("prodid", MADE_BY), ("version", "2.0"), ("name", NAME), ("x-wr-calname", NAME)):
        calendar.add(name, value)
    calendar.add("refresh-interval", FETCH_AGAIN, parameters={"VALUE": "DURATION"})
    for entry in _entries(plans):
        calendar.add_component(_component(entry, uid, now, address))
    return calendar.to_ical()


def _entries(plans):
    for plan in plans:
        for work in plan.works:
            yield from _days_of(work, plan.depot)
            if work.is_late:
                yield _not_ready(work, plan.depot)


def _days_of(work, depot):
    for number, (day, cables) in enumerate(work.shares, 1):
        yield {
            "key": f"{_key(work)}-{number}",
            "day": day,
            "summary": f"{work.mat.at_start}: change {cables_of((work, cables))}",
            "lines": _told(work),
            "depot": depot,
            "page": (work.order or work.mat).get_absolute_url(),
        }


def _not_ready(work, depot):
    """On the first day of the event that it misses."""
    return {
        "key": f"{_key(work)}-late",
        "day": work.event.starts_on,
        "summary": f"{work.mat.at_start} is not ready for {work.event.name}",
        "lines": [f"{why_late(work).capitalize()}."],
        "depot": depot,
        "page": work.event.get_absolute_url(),
    }


def _key(work):
    return f"order-{work.order.pk}" if work.order else f"mat-{work.mat.pk}"


def _told(work):
    if work.order:
        yield f"Work order {work.order}{f', for {work.order.given_to}' if work.order.given_to else ''}."
    if work.positions:
        yield f"Position{'s' if work.cables > 1 else ''} {', '.join(map(str, work.positions))}."
    if work.event:
        yield f"Before {work.event.name}, {short_day(work.event.starts_on)}."
        yield f"At home before it: {home_in_words(work)}."


def _component(entry, uid, now, address):
    from icalendar import Event

    event = Event()
    event.add("uid", f"{uid}-{entry['key']}@halfpower")
    event.add("dtstamp", now.astimezone(UTC))
    event.add("dtstart", entry["day"])
    event.add("dtend", entry["day"] + timedelta(days=1))
    event.add("summary", entry["summary"])
    event.add("description", "\n".join(entry["lines"]))
    if entry["depot"]:
        event.add("location", entry["depot"].name)
    event.add("url", address + entry["page"])
    # a day with a mat on the table is no day on which somebody is out of reach
    event.add("transp", "TRANSPARENT")
    return event


def file_name(now):
    return f"calendar-{localdate(now):%Y-%m-%d}.ics"
