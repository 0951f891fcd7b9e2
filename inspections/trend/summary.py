"""What the pool page shows of the fitted trend: by cable length, by bench day, and by which clock wear is counted."""

from dataclasses import dataclass
from datetime import date

import numpy as np

from fleet.models import CableSegment

from ..assessment.trend_records import fit_records
from ..assessment.wear_state import read_wear_state
from ..models import Assessment, BenchDay, Measurement, PoolTrend
from ..numeric.pool_model import PoolModel
from ..numeric.suspects import SUSPICIOUS_TIMES, farthest_above
from ..numeric.wear_clock import compare_clocks
from ..numeric.words import Clock, NoModelReason

# a bench day beyond so many standard deviations of bench days is named
NAMED_BEYOND = 3


@dataclass(frozen=True)
class LengthTrend:
    """The trend of one cable length: fitted loss when first fitted, rate, and how much its segments differ."""

    length_m: float
    segments: int
    as_new_db: float
    rate_db: float


@dataclass(frozen=True)
class Suspect:
    """The value on record that lies farthest above all others: a `length`, a `loss` (read on `day`), or how long a
    cable was in use by a reading: an `age` (since `day`) or `events`."""

    segment: CableSegment
    kind: str
    value: float
    usual: float
    day: date


@dataclass(frozen=True)
class PoolTrendPage:
    """`newer_readings`: entered or changed since the fit; they count for their own segments, not yet for the pool.

    `segments_compared`: how many the clocks were compared on. `suspect`: the value that probably spoils the fit.
    """

    model: PoolModel
    fitted_on: date
    newer_readings: int
    lengths: tuple[LengthTrend, ...]
    days: tuple[BenchDay, ...]
    proposal: str | None
    years_minus_events: float | None
    segments_compared: int = 0
    suspect: Suspect | None = None

    @property
    def fit(self):
        return self.model.fit

    @property
    def per(self):
        return "event" if self.model.clock == Clock.EVENTS else "year"

    @property
    def named_days(self):
        """Those that read far higher or lower than bench days of this pool do; the newest first."""
        return tuple(day for day in reversed(self.days) if self._is_named(day))

    def _is_named(self, day):
        return abs(day.shift_db) > NAMED_BEYOND * self.fit.bench_day_sd_db


def pool_trend_page(on):
    """PoolTrendPage as of the stored fit; None before the first."""
    stored = PoolTrend.objects.filter(pk=1).first()
    if stored is None:
        return None
    model = PoolModel.from_json(stored.model)
    newer = Measurement.objects.changed_since(stored.fitted_at).count()
    state = read_wear_state(on)
    suspect = _suspect(fit_records(state, model.clock), model)
    if model.fit is None:
        return PoolTrendPage(model, stored.fitted_on, newer, (), (), None, None, suspect=suspect)
    clocks = _compare_clocks(state, model)
    return PoolTrendPage(
        model=model,
        fitted_on=stored.fitted_on,
        newer_readings=newer,
        lengths=_by_length(state, model),
        days=tuple(BenchDay.objects.exclude(shift_db=None).order_by("measured_on", "pk")),
        proposal=clocks.proposal(model.clock),
        years_minus_events=None if np.isnan(clocks.years_minus_events) else clocks.years_minus_events,
        segments_compared=clocks.segments,
        suspect=suspect,
    )


def _suspect(records, model):
    """A length that no pool has; where no fit can be calculated also the loss or time that stands out most."""
    readings = records.readings
    values = {"length": records.length_m[readings.segment]}
    if model.no_model_reason == NoModelReason.NO_FIT:
        values |= {"loss": readings.loss_db, "events" if model.clock == Clock.EVENTS else "age": readings.x}
    found = {kind: farthest_above(column) for kind, column in values.items()}
    kind = max(found, key=lambda kind: found[kind][2])
    row, usual, times = found[kind]
    if times < SUSPICIOUS_TIMES:
        return None
    segment = readings.segment[row]
    day = records.day[row] if kind == "loss" else records.first_on[segment]
    named = CableSegment.objects.get(pk=records.segment[segment])
    return Suspect(named, kind, float(values[kind][row]), usual, day.item())


def segments_off_trend():
    """Assessed segments whose readings curve, step or fall, by mat and position."""
    off = Assessment.objects.off_trend().with_register()
    return off.order_by("mat__number", "position")


def newer_readings():
    """How many readings have been entered or changed since the pool was fitted; 0 before the first fit."""
    fitted_at = PoolTrend.objects.filter(pk=1).values_list("fitted_at", flat=True).first()
    return Measurement.objects.changed_since(fitted_at).count() if fitted_at else 0


def _by_length(state, model):
    length_m = state.fittings.length_m[state.current]
    known, count = np.unique(length_m, return_counts=True)
    a0, a1 = model.fit.intercept_db
    b0, b1 = model.fit.rate_db
    return tuple(
        LengthTrend(length, segments, float(a0 + a1 * length), float(b0 + b1 * length))
        for length, segments in zip(known.tolist(), count.tolist(), strict=True)
    )


def _compare_clocks(state, model):
    """The same readings by years and by events; only of segments whose mat's usage reaches back to their fitting."""
    years, events = fit_records(state, Clock.YEARS), fit_records(state, Clock.EVENTS)
    usable = (years.age_known & _usage_reaches_back(state, years))[years.readings.segment]
    by_years, by_events = (records.readings.take(usable) for records in (years, events))
    return compare_clocks(by_years, by_events, years.length_m, with_length=model.fit.with_length)


def _usage_reaches_back(state, records):
    """For each segment of the records: the first mat it was in has a usage event on or before its first fitting."""
    first = np.searchsorted(state.fittings.segment, records.segment)
    mat, fitted_on = state.fittings.mat[first], state.fittings.fitted_on[first]
    before_fitting = state.logs.counted.before(mat, fitted_on + np.timedelta64(1, "D"))
    return before_fitting > np.searchsorted(state.logs.counted.mat, mat, side="left")
