"""What stands for all that a page showed of an event, so that the act which follows can tell whether it still holds."""

import hashlib

from ..choices import UsageState


def mark_of(event, rows):
    """Stands for this event and exactly these usage events of it, each in exactly this version."""
    versions = sorted((row.pk, row.version) for row in rows)
    return hashlib.sha256(repr((event.pk, event.version, versions)).encode()).hexdigest()[:16]


def versions_of(event):
    """Stands for the event and each of its mats, one by one: an act on some of them does not ask about the others."""
    return " ".join(version_of(row) for row in (event, *event.usage_events.all()))


def version_of(row):
    return f"{row.pk}.{row.version}"


def planned_mark(event):
    """Of the event and the mats still planned for it."""
    return mark_of(event, event.usage_events.filter(state=UsageState.PLANNED))


def going_mark(event):
    """Of the event and the mats that went or are planned."""
    return mark_of(event, event.usage_events.exclude(state=UsageState.CALLED_OFF))
