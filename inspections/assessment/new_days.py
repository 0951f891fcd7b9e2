"""Bench days that are newer than the fit: their readings count at once, with the shift of their own day.

The shift is told by the readings of other cables on that day, against what the fit expects of them, and by reference
pieces. So a cable is
assessed together with all that were read beside it on such a day. Readings of other new days have no part in it: what
a day reads hangs on nothing but its own readings and those of the fit.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..models import BenchDay, Measurement
from ..numeric.bench_day_keys import bench_day_key, day_of_key
from ..numeric.bench_day_shifts import day_shift, predict, without_own
from .pool_fits import bench_day_rows
from .trend_records import PoolRecords, fit_records
from .wear_state import WearState, read_wear_state


@dataclass(frozen=True)
class Known:
    """What is known of segments, and of those read beside them on days newer than the fit.

    `records` None: nothing has been fitted yet. `days`: (day, instrument's key or None) of those new days; `rows`: what
    is now to be kept of them.
    """

    state: WearState
    records: PoolRecords | None
    days: frozenset = frozenset()
    rows: tuple[BenchDay, ...] = ()


def read_known(on, fitted, segment_ids=None, *, policy=None):
    """Known of these segments (None: all) by that day, under a PoolFitted (None: nothing has been fitted yet)."""
    if fitted is None:
        return Known(read_wear_state(on, segment_ids, policy=policy), None)
    days = frozenset() if segment_ids is None else _new_days_of(segment_ids)
    together = [*segment_ids, *_read_on(days, on)] if days else segment_ids
    state = read_wear_state(on, together and sorted(set(together)), policy=policy)
    records = fit_records(state, fitted.model.clock).leaving_out_named(fitted.left_out)
    records, rows = _with_new_days(records, fitted.model, None if segment_ids is None else _keys(days))
    return Known(state, records, days, rows)


def keep_new_days(known):
    """Write what the bench read on the new days of these records; a day without a reading left is no more."""
    if not known.days:
        return
    kept = BenchDay.objects.filter(in_fit=False, measured_on__in={day for day, _ in known.days})
    stale = [pk for pk, *pair in kept.values_list("pk", "measured_on", "instrument") if tuple(pair) in known.days]
    BenchDay.objects.filter(pk__in=stale).delete()
    BenchDay.objects.bulk_create(known.rows)


def _new_days_of(segment_ids):
    """New days on which one of these segments was read, void readings included: theirs was a part of it once."""
    readings = Measurement.objects.filter(segment__in=segment_ids).order_by()
    days = set(readings.values_list("measured_on", "instrument").distinct())
    fitted = BenchDay.objects.filter(in_fit=True, measured_on__in={day for day, _ in days}).order_by()
    return frozenset(days - set(fitted.values_list("measured_on", "instrument")))


def _read_on(days, on):
    """Segments with a reading on one of these bench days."""
    readings = Measurement.objects.valid_on(on).filter(measured_on__in={day for day, _ in days}).order_by()
    found = readings.values_list("segment", "measured_on", "instrument")
    return {segment for segment, *day in found if tuple(day) in days}


def _keys(days):
    dates, instruments = [day for day, _ in days], [instrument or 0 for _, instrument in days]
    return bench_day_key(np.array(dates, "datetime64[D]"), instruments)


def _with_new_days(records, model, complete):
    """(records with the shift of each reading of a new day, unsaved rows of the `complete` days).

    `complete`: keys of the days of which all readings are in the records (None: all of them); of others the stored row
    tells.
    """
    readings = records.readings
    new, stored = _new_readings(records, model)
    if not new.any():
        return records, ()
    whole = new if complete is None else new & np.isin(readings.day, complete)
    if model.points is None:
        keys, count = np.unique(readings.day[whole], return_counts=True)
        return records, bench_day_rows(keys, count, *np.full((2, len(keys)), np.nan), records.pieces, in_fit=False)
    residual_db, prediction = _unexpected(records, model, new)
    of_whole = whole[new]
    pieces = records.pieces
    rows = day_shift(model, readings.day[whole], residual_db[of_whole], prediction.take(of_whole), pieces)
    stored |= {key: shift for key, _, *shift in zip(*(column.tolist() for column in rows), strict=True)}
    shift_db, sd_db = readings.shift_db.copy(), readings.shift_sd_db.copy()
    of_day = _stored_shifts(readings.day[new], stored)
    shift_db[new], sd_db[new] = without_own(model, *of_day, residual_db, prediction, readings.day[new], pieces)
    shifted = replace(records, readings=replace(readings, shift_db=shift_db, shift_sd_db=sd_db))
    return shifted, bench_day_rows(*rows, pieces, in_fit=False)


def _new_readings(records, model):
    """(mask of the readings of new days, {key: (shift, sd)} of such days as they are stored)."""
    readings = records.readings
    own = records.is_fitted & ~readings.left_out & (readings.day >= 0) & ~np.isin(readings.day, model.days.key)
    days = np.unique(day_of_key(readings.day[own])).tolist()
    if not days:
        return own, {}
    rows = BenchDay.objects.filter(measured_on__in=days)
    fitted, stored = [], {}
    for day, instrument, in_fit, *shift in rows.values_list(
        "measured_on", "instrument", "in_fit", "shift_db", "shift_sd_db"
    ):
        key = int(bench_day_key(np.datetime64(day, "D"), instrument or 0))
        if in_fit:
            fitted.append(key)
        else:
            stored[key] = shift
    return own & ~np.isin(readings.day, fitted), stored


def _unexpected(records, model, new):
    """(reading - what the fit expects of its cable in dB, Prediction) of the new readings."""
    rows = np.unique(records.readings.segment[new])
    of_rows = records.is_fitted & np.isin(records.readings.segment, rows)
    row = np.searchsorted(rows, records.readings.segment)
    before, after = (
        replace(part, segment=row[mask]) for mask in (of_rows & ~new, new) for part in (records.readings.take(mask),)
    )
    prediction = predict(model, before, after, records.length_m[rows])
    return after.loss_db - prediction.mean_db, prediction


def _stored_shifts(day, stored):
    """(shift, sd) of each of these keys; nan where nothing is stored."""
    found = [stored.get(key, (None, None)) for key in day.tolist()]
    return np.array(found, float).reshape(-1, 2).T
