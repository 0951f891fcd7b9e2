"""The trend's answer for each segment: its line, the chance of being over, the dates, or why there is none."""

from dataclasses import dataclass

import numpy as np

from .crossings import HORIZON_YEARS, Crossings, find_crossings
from .line_checks import line_p_values
from .mixed_model import FixedPart
from .pool_model import FitReadings, PoolModel, sum_readings
from .posteriors import SegmentLines, segment_lines
from .single_segments import READINGS_NEEDED, has_own_fit, single_trend
from .small_pools import find_mixture_crossings, line_mixture
from .words import NoDateReason, NoModelReason

# Mixture arrays hold grid x segments numbers: segments are taken in blocks of this many.
BLOCK = 200
# Why a segment without a line of its own has no date where the pool has no model.
_NO_DATE = {
    NoModelReason.FEW_SEGMENTS: NoDateReason.TOO_FEW_READINGS,
    NoModelReason.ONE_TIME: NoDateReason.ONE_TIME,
    NoModelReason.NO_FIT: NoDateReason.NO_FIT,
}


@dataclass(frozen=True)
class Segments:
    """What is asked of each segment; arrays of shape (segments,).

    `now`: the wear clock at the day asked (years or events since first fitted); `accepted_risk` in (0, 0.5];
    `horizon` on the clock; `age_known`: false for a segment of basis *not later than*, which has no trend and gives
    nothing to the fit.
    """

    length_m: np.ndarray
    now: np.ndarray
    limit_db: np.ndarray
    accepted_risk: np.ndarray
    horizon: np.ndarray
    age_known: np.ndarray

    @classmethod
    def of(cls, length_m, now, *, limit_db=3.0, accepted_risk=0.05, horizon=HORIZON_YEARS, age_known=True):
        """Scalars stand for all segments. Raises ValueError: accepted risk outside (0, 0.5], horizon without end."""
        length_m = np.asarray(length_m, float)
        values = (
            np.broadcast_to(np.asarray(v, float), length_m.shape) for v in (now, limit_db, accepted_risk, horizon)
        )
        segments = cls(length_m, *values, np.broadcast_to(np.asarray(age_known, bool), length_m.shape))
        if not np.all((segments.accepted_risk > 0) & (segments.accepted_risk <= 0.5)):
            raise ValueError("The accepted risk must lie above 0 and not above one half.")
        if not np.isfinite(segments.horizon).all():
            raise ValueError("The horizon must be a finite time on the wear clock.")
        return segments

    def take(self, rows):
        return Segments(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))


@dataclass(frozen=True)
class SegmentTrends:
    """The answers; arrays of shape (segments,). Times on the wear clock since first fitted.

    `lines`: posterior mean and covariance (nan: unknown); `early`, `expected`: inf later than the horizon, nan no
    answer; `own_readings`: a reading besides the as-new one is in the fit, else the line is that of similar ones;
    `line_p_value`: nan with fewer than three readings on three days; `no_date_reason`: NoDateReason, or None where
    `early` is a date.
    """

    lines: SegmentLines
    chance_over: np.ndarray
    early: np.ndarray
    expected: np.ndarray
    falling_chance: np.ndarray
    line_p_value: np.ndarray
    readings: np.ndarray
    own_readings: np.ndarray
    no_date_reason: np.ndarray


def assess_segments(model: PoolModel, readings: FitReadings, segments: Segments):
    """SegmentTrends of some segments under a fitted model, from their own readings only.

    `readings.segment` counts within these segments.
    """
    readings = readings.of_segments(segments.age_known)
    count, unknown = len(segments.length_m), ~segments.age_known
    # what overflows is told as NO_FIT
    with np.errstate(all="ignore"):
        found = _pooled(model, readings, segments) if model.fit else _single(model, readings, segments)
    lines, crossings, p_values, reason = found
    reason[_not_finite(lines, reason)] = NoDateReason.NO_FIT
    reason[unknown] = NoDateReason.AGE_NOT_KNOWN
    unknown = unknown | (reason == NoDateReason.NO_FIT)
    no_date = np.isin(reason, (NoDateReason.NO_LINE, NoDateReason.AGE_NOT_KNOWN, NoDateReason.NO_FIT))
    return SegmentTrends(
        lines=SegmentLines(*(np.where(unknown, np.nan, part) for part in lines)),
        chance_over=np.where(unknown, np.nan, crossings.chance_over),
        early=np.where(no_date, np.nan, crossings.early),
        expected=np.where(no_date, np.nan, crossings.expected),
        falling_chance=np.where(unknown, np.nan, crossings.falling_chance),
        line_p_value=p_values,
        readings=np.bincount(readings.segment, minlength=count),
        own_readings=np.bincount(readings.segment[~readings.as_new], minlength=count) > 0,
        no_date_reason=reason,
    )


def _not_finite(lines, reason):
    """True where there should be a line, and its numbers have no place in floating point."""
    answered = ~np.isin(reason, list(_NO_DATE.values()))
    return answered & ~np.isfinite(np.stack(lines)).all(axis=0)


def _pooled(model, readings, segments):
    summed = sum_readings(readings, len(segments.length_m), model.fit.frame)
    fixed = FixedPart.of(segments.length_m, model.fit.with_length)
    p_values = line_p_values(summed, model.line_check)
    if model.grid is None:
        lines = segment_lines(summed.sums, fixed, model.fit)
        crossings = find_crossings(lines, segments.now, segments.limit_db, segments.accepted_risk, segments.horizon)
    else:
        lines, crossings = _integrated(model, summed.sums, fixed, segments)
    reason = np.full(len(p_values), None, object)
    reason[crossings.early == np.inf] = NoDateReason.LATER
    reason[p_values <= model.line_check.threshold] = NoDateReason.NO_LINE
    reason[crossings.falling] = NoDateReason.FALLING
    return lines, crossings, p_values, reason


def _integrated(model, sums, fixed, segments):
    """Lines and crossings over the grid, block by block; segments without a reading and asked the same, only once."""
    asked = np.column_stack(
        [
            np.where(sums.n > 0, np.arange(len(sums.n)), -1),
            segments.length_m,
            segments.now,
            segments.limit_db,
            segments.accepted_risk,
            segments.horizon,
        ]
    )
    _, first, inverse = np.unique(asked, axis=0, return_index=True, return_inverse=True)
    blocks = [_integrated_block(model, sums.take(r), fixed.take(r), segments.take(r)) for r in _in_blocks(first)]
    columns = [np.concatenate(parts)[inverse.ravel()] for parts in zip(*blocks, strict=True)]
    return SegmentLines(*columns[:5]), Crossings(*columns[5:])


def _in_blocks(rows):
    return [rows[start : start + BLOCK] for start in range(0, max(len(rows), 1), BLOCK)]


def _integrated_block(model, sums, fixed, segments):
    mixture = line_mixture(sums, fixed, model.grid, model.fit.frame)
    found = find_mixture_crossings(mixture, segments.now, segments.limit_db, segments.accepted_risk, segments.horizon)
    return (*mixture.moments(), found.chance_over, found.early, found.expected, found.falling_chance)


def _single(model, readings, segments):
    """Without a pool model: own lines where there are three readings on three days, else unknown."""
    count = len(segments.length_m)
    table = np.full((9, count), np.nan)
    reason = np.full(count, None, object)
    reason[:] = _NO_DATE[model.no_model_reason]
    for row in np.flatnonzero(np.bincount(readings.segment) >= READINGS_NEEDED):
        mine = readings.segment == row
        if has_own_fit(readings.x[mine]):
            found = _single_trend(readings, mine, segments, row)
            table[:, row] = (*found.lines, found.chance_over, found.early, found.expected, found.falling_chance)
            reason[row] = _single_reason(found)
    return SegmentLines(*table[:5]), Crossings(*table[5:]), np.full(count, np.nan), reason


def _single_trend(readings, mine, segments, row):
    asked = segments.now[row], segments.limit_db[row], segments.accepted_risk[row], segments.horizon[row]
    return single_trend(readings.x[mine], readings.loss_db[mine], *asked)


def _single_reason(found):
    if np.isnan(found.chance_over):
        return NoDateReason.FALLING
    if not found.settled:
        return NoDateReason.NOT_SETTLED
    return NoDateReason.LATER if np.isinf(found.early) else None
