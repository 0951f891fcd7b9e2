"""One bench day: each of its readings as it was, without the shift of the day, and against what was expected."""

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

import numpy as np

from fleet.models import CableSegment, Fitting

from ...assessment.new_days import read_known
from ...assessment.pool_fits import stored_fit
from ...models import BenchDay, BenchDaySaid, Instrument, Measurement
from ...numeric.bench_day_keys import bench_day_key
from ...numeric.bench_day_shifts import predict
from ..pieces.selectors import PieceRead, ShownPiece, pieces_of_bench_day
from .selectors import places_on, said_of


@dataclass(frozen=True)
class DayReading:
    """The reading of a cable on a bench day, at the reference frequency and 20 °C, dB.

    `expected_db`: what all its other readings, and similar cables, say of the cable itself on that day, with its
    standard deviation; None without a trend of the pool. `left_out`: it departed too far to be in the fit.
    """

    segment: CableSegment
    fitting: Fitting | None
    loss_db: float
    shift_db: float | None
    expected_db: float | None
    expected_sd_db: float | None
    left_out: bool

    @property
    def own_db(self):
        """Without the shift of the day."""
        return None if self.shift_db is None else self.loss_db - self.shift_db

    @property
    def off_db(self):
        """By how much it lies above what was expected, without the shift of the day."""
        return None if self.own_db is None or self.expected_db is None else self.own_db - self.expected_db


@dataclass(frozen=True)
class BenchDayPage:
    """`row` None: none of its readings counts for the trend. `apart`: readings that have no part in it.

    `bench_day_sd_db`: the standard deviation of the shifts of all bench days; None without a trend of the pool.
    """

    measured_on: date
    instrument: Instrument | None
    row: BenchDay | None
    readings: tuple[DayReading, ...]
    apart: tuple[Measurement, ...]
    bench_day_sd_db: float | None
    # what people said of it, and each reference piece read on it with its reading that counts
    said: BenchDaySaid
    pieces: tuple[tuple[ShownPiece, PieceRead], ...] = ()

    @property
    def is_trusted(self):
        return not self.said.not_trusted_reason

    @property
    def is_held(self):
        """No verdict of its readings counts until somebody looked at it."""
        return any(read.stops for _, read in self.pieces)

    @property
    def was_beyond(self):
        return any(read.is_beyond for _, read in self.pieces)

    @cached_property
    def is_far_off(self):
        """Far higher or lower than bench days of this pool do."""
        return bool(self.row) and self.bench_day_sd_db is not None and self.row.reads_far_off(self.bench_day_sd_db)


def bench_day_page(day, instrument, readings, on):
    """BenchDayPage of the `readings` (Measurement rows) of that day and instrument."""
    row = BenchDay.objects.filter(measured_on=day, instrument=instrument).select_related("instrument").first()
    segments = {reading.segment_id: reading.segment for reading in readings}
    said, fitted = said_of(day, instrument), stored_fit()
    counted = _counted(day, instrument, row, segments, fitted, on) if fitted else []
    in_fit = {each.segment.pk for each in counted}
    return BenchDayPage(
        measured_on=day,
        instrument=instrument,
        row=row,
        readings=tuple(sorted(counted, key=_place)),
        apart=tuple(reading for reading in readings if reading.segment_id not in in_fit or _is_apart(reading, on)),
        bench_day_sd_db=fitted.model.fit.bench_day_sd_db if fitted and fitted.model.fit else None,
        said=said,
        pieces=tuple(_counting(piece, day, instrument) for piece in pieces_of_bench_day(day, instrument, on)),
    )


def _counting(piece, day, instrument):
    """(piece, its reading that counts of that bench day)."""
    pair = day, instrument and instrument.pk
    reads = [read for read in piece.readings if (read.reading.measured_on, read.reading.instrument_id) == pair]
    return piece, reads[-1]


def _is_apart(reading, on):
    void = reading.voided_on is not None and reading.voided_on <= on
    return void or bool(reading.doubt_reason) or reading.no_signal


def _place(each):
    where = (each.fitting.mat.number, each.fitting.position) if each.fitting else ("", 0)
    return (each.fitting is None, *where, each.segment.serial)


def _counted(day, instrument, row, segments, fitted, on):
    """DayReadings of the cables whose reading of that day is one of this bench day."""
    records = read_known(on, fitted, sorted(segments)).records
    key = bench_day_key(np.datetime64(day, "D"), instrument.pk if instrument else 0)
    chosen = records.is_fitted & (records.readings.day == key)
    rows, places = records.readings.segment[chosen], places_on(day, list(segments))
    expected, sd = _expected(records, fitted.model, chosen)
    shift_db = row.shift_db if row else None
    columns = records.segment[rows], records.readings.loss_db[chosen], expected, sd, records.readings.left_out[chosen]
    return [
        DayReading(segments[pk], places.get(pk), loss_db, shift_db, *_known(mean, spread), left_out)
        for pk, loss_db, mean, spread, left_out in zip(*(column.tolist() for column in columns), strict=True)
        if pk in segments
    ]


def _known(*numbers):
    return [None if np.isnan(number) else number for number in numbers]


def _expected(records, model, chosen):
    """(mean, standard deviation) of each cable's own loss then, its reading of that day left aside; nan: not known."""
    readings = records.readings
    if model.points is None or not chosen.any():
        return np.full((2, int(chosen.sum())), np.nan)
    rows = np.unique(readings.segment[chosen])
    row = np.searchsorted(rows, readings.segment)
    others = records.is_fitted & np.isin(readings.segment, rows) & ~chosen
    before, after = (replace(readings.take(mask), segment=row[mask]) for mask in (others, chosen))
    prediction = predict(model, before, after, records.length_m[rows])
    # the scatter of a reading is none of the cable's own
    sigma2 = float(model.points.weight @ model.points.sigma2)
    return prediction.mean_db, np.sqrt(np.maximum(prediction.variance_db2 - sigma2, 0.0))
