"""The fit of the whole pool: made from its records, kept with its bench days, and read again."""

from dataclasses import dataclass

import numpy as np

from ..models import BenchDay, PoolTrend
from ..numeric.bench_day_keys import day_of_key, instrument_of_key
from ..numeric.bench_day_shifts import lone_shifts
from ..numeric.pool_model import PoolModel, fit_pool_model
from ..numeric.words import Clock

# what goes into a fit beside the records
FIT_SETTINGS = ("wear_by_events", "reference_mhz", "reading_uncertainty_db")


@dataclass(frozen=True)
class PoolFitted:
    """What a fit leaves for later: its model, and which readings departed too far to be in it.

    `left_out`: a segment's key, the ISO day and the loss of each.
    """

    model: PoolModel
    left_out: list


def fit_trend(records, policy, start=None):
    """(PoolFitted of the records of the whole pool by the keeper's clock, the records with what is left out marked).

    `start`: a former PoolFitted, from which to start.
    """
    wear_clock, taken = clock(policy), records.is_fitted
    former = start.model if start and start.model.clock == wear_clock else None
    model, departed = fit_pool_model(
        records.readings.take(taken),
        records.length_m,
        clock=wear_clock,
        instrument_sd_db=policy.value("reading_uncertainty_db"),
        start=former,
        pieces=records.pieces,
    )
    left_out = np.zeros(len(taken), bool)
    left_out[taken] = departed
    records = records.leaving_out(left_out)
    return PoolFitted(model, records.named_left_out()), records


def fits_alike(policy, other):
    """Whether the pool is fitted alike under two policies."""
    return all(policy.value(name) == other.value(name) for name in FIT_SETTINGS)


def clock(policy):
    return Clock.EVENTS if policy.value("wear_by_events") else Clock.YEARS


def stored_fit():
    """The PoolFitted of the last fit; None before the first."""
    stored = PoolTrend.objects.filter(pk=1).only("model", "left_out").first()
    return stored and PoolFitted(PoolModel.from_json(stored.model), stored.left_out)


def store_fit(fitted, records, on, changes):
    """Keep the fit that the next assessments use, and its bench days."""
    kept = {"model": fitted.model.as_json(), "left_out": fitted.left_out, "fitted_on": on, "changes": changes}
    PoolTrend.objects.update_or_create(pk=1, defaults=kept)
    BenchDay.objects.all().delete()
    BenchDay.objects.bulk_create(_days_of_fit(fitted.model, records))


def _days_of_fit(model, records):
    """A row of each bench day that the fit took readings of."""
    readings = records.readings.take(records.is_fitted & ~records.readings.left_out)
    keys, count = np.unique(readings.day[readings.day >= 0], return_counts=True)
    shift_db, sd_db = np.full((2, len(keys)), np.nan)
    if model.points is not None:
        lone = lone_shifts(model, readings, records.length_m)
        for key, *shift in ((model.days.key, model.days.shift_db, model.days.sd_db), lone):
            at = np.searchsorted(keys, key)
            shift_db[at], sd_db[at] = shift
    return bench_day_rows(keys, count, shift_db, sd_db, records.pieces, in_fit=True)


def bench_day_rows(keys, readings, shift_db, sd_db, pieces, *, in_fit):
    """Unsaved BenchDay rows of these sorted keys; no shift where it is not a number. `pieces`: PieceReadings."""
    of_pieces = np.bincount(np.searchsorted(keys, pieces.of_days(keys).day), minlength=len(keys))
    columns = day_of_key(keys), instrument_of_key(keys), readings, shift_db, sd_db, of_pieces
    return [
        BenchDay(
            measured_on=day,
            instrument_id=instrument or None,
            readings=count,
            shift_db=None if np.isnan(shift) else shift,
            shift_sd_db=None if np.isnan(sd) else sd,
            piece_readings=piece_readings,
            in_fit=in_fit,
        )
        for day, instrument, count, shift, sd, piece_readings in zip(
            *(column.tolist() for column in columns), strict=True
        )
    ]
