"""Rows that a load corrects, because its files say more or something else of them than is stored; and back again."""

from collections import defaultdict

from django.core.exceptions import ValidationError
from django.db import connection

from ..models import CableSegment, Event, Fitting, LoadCorrection, UsageEvent
from .corrections import correct_each
from .mat_days import write_days
from .settling import detach
from .shelf_of_segments import follow_register

# an update names each of its rows: statements may not grow without end
AT_ONCE = 200


def correct_by_load(load, model, changes, *, on):
    """Correct rows of one kind, `changes`: {key: {field: value}}; their trail names the load. How many there were.

    ValidationError where a row as a whole may not be so. Call in a transaction that has the pool to itself.
    """
    corrected = correct_rows(model, changes, by=load.loaded_by, reason=str(load), on=on)
    LoadCorrection.objects.bulk_create(
        LoadCorrection(load=load, kind=model._meta.label_lower, row=row.pk, version=row.version) for row in corrected
    )
    return len(corrected)


def correct_rows(model, changes, *, by, reason, on):
    """Correct many rows of a kind, each with its own fields, and what follows from them; the rows."""
    assert connection.in_atomic_block, "rows and their trail are kept together"
    rows, alike = model._base_manager.in_bulk(changes), defaultdict(list)
    for pk, values in changes.items():
        alike[frozenset(values)].append((rows[pk], values))
    for group in alike.values():
        for start in range(0, len(group), AT_ONCE):
            correct_each(group[start : start + AT_ONCE], by=by, reason=reason)
    _check_whole(rows.values())
    _follow(model, rows, {name for values in changes.values() for name in values}, by, on)
    return list(rows.values())


def _check_whole(rows):
    for row in rows:
        try:
            row.clean()
        except ValidationError as error:
            raise ValidationError([f"{row.at_start}: {sentence}" for sentence in error.messages]) from error


def _follow(model, rows, fields, by, on):
    """The days that mats are taken on, and the ledger of the shelf, as the rows say by now."""
    if model is Event:
        _events_changed(rows, fields)
    elif model is UsageEvent and fields & {"state", "basis"}:
        write_days(UsageEvent.objects.filter(pk__in=rows).select_related("event"))
    elif model in (CableSegment, Fitting):
        follow_register([row.pk if model is CableSegment else row.segment_id for row in rows.values()], by=by, on=on)


def _events_changed(rows, fields):
    for event in rows.values():
        detach(event)
    if fields & {"starts_on", "ends_on"}:
        write_days(UsageEvent.objects.filter(event__in=rows).select_related("event"))
