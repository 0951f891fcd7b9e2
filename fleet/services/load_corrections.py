"""Rows that a load corrects, because its files say more or something else of them than is stored; and back again."""

from collections import defaultdict

from django.core.exceptions import ValidationError
from django.db import connection

from ..figures import short_day
from ..models import CableSegment, Event, Fitting, LoadCorrection, MatDay, UsageEvent
from ..selectors.misfits import misfits_of
from .corrections import correct_each
from .mat_days import days_of, write_days
from .settling import detach
from .shelf_of_segments import follow_register

# an update names each of its rows: statements may not grow without end
AT_ONCE = 200


def correct_by_load(load, model, changes):
    """As `correct_rows`, where the trail names the load, and the load knows what it corrected; the rows."""
    rows = correct_rows(model, changes, by=load.loaded_by, reason=str(load))
    LoadCorrection.objects.bulk_create(
        LoadCorrection(load=load, kind=model._meta.label_lower, row=row.pk, version=row.version) for row in rows
    )
    return rows


def correct_rows(model, changes, *, by, reason):
    """Correct many rows of a kind, `changes`: {key: {field: value}}; the rows.

    ValidationError where a row as a whole may not be so. Call in a transaction that has the pool to itself, and
    `settle_days` and `settle_rest` once all rows are corrected.
    """
    assert connection.in_atomic_block, "rows and their trail are kept together"
    rows, alike = model._base_manager.in_bulk(changes), defaultdict(list)
    for pk, values in changes.items():
        alike[frozenset(values)].append((rows[pk], values))
    for group in alike.values():
        for start in range(0, len(group), AT_ONCE):
            correct_each(group[start : start + AT_ONCE], by=by, reason=reason)
    for row in rows.values():
        _check_whole(row)
    return list(rows.values())


def _check_whole(row):
    try:
        row.clean()
    except ValidationError as error:
        raise ValidationError([f"{row.at_start}: {sentence}" for sentence in error.messages]) from error


def settle_days(rows):
    """The days that mats are taken on, as the events and their use among these rows say by now."""
    events, usage = _kind(rows, Event), _kind(rows, UsageEvent)
    for event in events:
        detach(event)
    if events or usage:
        pks = {row.pk for row in usage}
        pks.update(UsageEvent.objects.filter(event__in=events).values_list("pk", flat=True))
        _write_days(list(UsageEvent.objects.filter(pk__in=pks).select_related("event", "mat")))


def _write_days(usage):
    planned = [day for row in usage for day in days_of(row, row.event) if day.planned]
    taken = MatDay.objects.filter(planned=True, mat__in={day.mat_id for day in planned})
    taken = taken.exclude(usage_event__in=usage).select_related("mat", "usage_event__event")
    others = {(row.mat_id, row.day): row for row in taken.order_by("-day")} if planned else {}
    clashes = dict.fromkeys(others[place] for day in planned if (place := (day.mat_id, day.day)) in others)
    if clashes:
        raise ValidationError(
            [f"{row.mat} is planned for {row.usage_event.event} on {short_day(row.day)}." for row in clashes]
        )
    write_days(usage)


def settle_rest(rows, *, by, on):
    """The ledger of the shelf follows; ValidationError that names what no longer fits together."""
    misfits = [sentence for model in {type(row) for row in rows} for sentence in misfits_of(model, rows, on)]
    if misfits:
        raise ValidationError(misfits)
    segments = {row.pk for row in _kind(rows, CableSegment)} | {row.segment_id for row in _kind(rows, Fitting)}
    follow_register(segments, by=by, on=on)


def _kind(rows, model):
    return [row for row in rows if type(row) is model]
