"""The trend's answer for each segment: its state, the chance of being over, the dates, or why there is none."""

from dataclasses import dataclass, replace

import numpy as np

from .crossings import HORIZON_YEARS, Crossings, Limits, find_crossings, find_mixture_crossings
from .fit_readings import FitReadings
from .past_crossings import Past
from .pool_model import PoolModel
from .reading_blocks import DATED_NUMBERS, lay_out, settled
from .single_segments import READINGS_NEEDED, has_own_fit, single_trend
from .wear_states import PieceAnswers, SegmentStates
from .words import Clock, NoDateReason, NoModelReason

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

    `states`: mean and covariance of loss and rate at `x_last`, the last reading in the fit (nan: unknown); `early`,
    `expected`: inf later than the horizon, nan no answer; `own_readings`: a reading besides the as-new one is in the
    fit, else the state is that of similar ones; `departure`: how many standard deviations the newest reading lies from
    what all others say, nan without one; `no_date_reason`: NoDateReason, or None where `early` is a date.
    """

    states: SegmentStates
    x_last: np.ndarray
    chance_over: np.ndarray
    early: np.ndarray
    expected: np.ndarray
    falling_chance: np.ndarray
    departure: np.ndarray
    readings: np.ndarray
    own_readings: np.ndarray
    no_date_reason: np.ndarray


def assess_segments(model: PoolModel, readings: FitReadings, segments: Segments):
    """SegmentTrends of some segments under a fitted model, from their own readings only.

    `readings.segment` counts within these segments.
    """
    readings = readings.of_segments(segments.age_known)
    used = readings.take(~readings.left_out)
    count, unknown = len(segments.length_m), ~segments.age_known
    # what overflows is told as NO_FIT
    with np.errstate(all="ignore"):
        answer = _pooled if model.points else _single
        states, x_last, crossings, departure, reason = answer(model, readings, used, segments)
    answered = ~np.isin(reason, list(_NO_DATE.values()))
    reason[answered & ~np.isfinite(np.stack(states)).all(axis=0)] = NoDateReason.NO_FIT
    reason[unknown] = NoDateReason.AGE_NOT_KNOWN
    unknown = unknown | (reason == NoDateReason.NO_FIT)

    def known(values):
        return np.where(unknown, np.nan, values)

    return SegmentTrends(
        states=SegmentStates(*map(known, states)),
        x_last=x_last,
        chance_over=known(crossings.chance_over),
        early=known(crossings.early),
        expected=known(crossings.expected),
        falling_chance=known(crossings.falling_chance),
        departure=known(departure),
        readings=np.bincount(used.segment, minlength=count),
        own_readings=np.bincount(used.segment[~used.as_new], minlength=count) > 0,
        no_date_reason=reason,
    )


def path_of(model: PoolModel, readings: FitReadings, length_m, x, years=None):
    """(mean, standard deviation) in dB of one segment's own loss at times `x` on the clock, `years` since first fitted
    (None: the clock counts years): smoothed up to its last reading, forecast after it. nan without a pool model.
    """
    x = np.asarray(x, float)
    if model.points is None:
        return np.full(len(x), np.nan), np.full(len(x), np.nan)
    points, used = model.points, readings.take(~readings.left_out)
    block = lay_out(used, np.array([length_m], float), points.keys, points.scale)[0]
    answers = PieceAnswers.of(block, points).take(np.zeros(len(x), int))
    target = answers.at(x / points.scale, settled(x if years is None else years))
    mean = points.weight @ target.level
    return mean, np.sqrt(points.weight @ (np.maximum(target.c00, 0.0) + (target.level - mean) ** 2))


def _pooled(model, readings, used, segments):
    points, count = model.points, len(segments.length_m)
    by_years = model.clock == Clock.YEARS
    table = np.empty((12, count))
    first_of_its_kind, kind = _asked_alike(used, segments)
    for block in lay_out(used, segments.length_m, points.keys, points.scale):
        asked = block if block.readings_each else block.take(first_of_its_kind[block.rows])
        for piece in asked.pieces(len(points.weight), DATED_NUMBERS):
            table[:, piece.rows] = _answer_piece(PieceAnswers.of(piece, points), segments.take(piece.rows), by_years)
    table = table[:, kind]
    departure, newest = table[11].copy(), _is_newest(readings, count)
    newest_out = np.zeros(count, bool)
    newest_out[readings.segment[readings.left_out & newest]] = True
    if newest_out.any():
        departure[newest_out] = _departures_of(points, readings, segments, newest_out, newest)
    reason = np.full(count, None, object)
    crossings = Crossings(*table[7:11])
    reason[crossings.early == np.inf] = NoDateReason.LATER
    reason[crossings.falling] = NoDateReason.FALLING
    return SegmentStates(*table[:6]), table[6], crossings, departure, reason


def _asked_alike(readings, segments):
    """(mask of the segments to answer for, row of the one that answers for each): of those without a reading that are
    asked the same, one answers for all."""
    count = len(segments.length_m)
    has = np.bincount(readings.segment, minlength=count) > 0
    asked = [segments.length_m, segments.now, segments.limit_db, segments.accepted_risk, segments.horizon]
    rows = np.arange(count)
    empty = np.flatnonzero(~has)
    if empty.size:
        _, first, inverse = np.unique(np.stack(asked)[:, empty], axis=1, return_index=True, return_inverse=True)
        rows[empty] = empty[first][inverse.ravel()]
    return rows == np.arange(count), rows


def _answer_piece(answers, segments, by_years):
    """Rows of a table: the six of SegmentStates, x_last, the four of Crossings, the newest reading's departure."""
    piece, points = answers.piece, answers.points
    none = np.zeros(len(piece.rows))
    t_last, f_last = (part[-1] if piece.readings_each else none for part in (piece.t, piece.f))
    states, one = _states(answers.at(t_last, f_last), points), len(points.weight) == 1
    limits = Limits(segments.limit_db, points.settling_db[:, None], f_last, by_years)
    x_last = t_last * points.scale
    ahead, horizon = segments.now - x_last, np.maximum(segments.horizon - x_last, 0.0)
    asked = np.maximum(ahead, 0.0), segments.accepted_risk, horizon
    if one:
        moments = states.take_point(0)
        found = find_crossings(moments, replace(limits, settling_db=points.settling_db[0]), *asked)
    else:
        moments = states.moments(points.weight)
        found = find_mixture_crossings(states, points.weight, limits, *asked)
    found = _with_the_past(found, Past(answers, limits.lowered, by_years), ahead, segments.accepted_risk, x_last)
    crossings = (found.chance_over, found.early, found.expected, found.falling_chance)
    return np.stack([*moments, x_last, *crossings, _departure_of_last(answers)])


def _states(target, points):
    """SegmentStates at the last readings, in units of the clock: (points, segments)."""
    level, rate, c00, c01, c11 = target
    scale, q = points.scale, np.broadcast_to(points.wander_db2[:, None], level.shape)
    floor = np.maximum(c00, 0.0), c01 / scale, np.maximum(c11, 0.0) / scale**2
    return SegmentStates(level, rate / scale, *floor, q / scale)


def _with_the_past(found, past, ahead, risk, x_last):
    """Crossings in times since first fitted: those reached at the last reading (0 ahead) by the smoothed path, and the
    chance on a day before it."""
    chance, early, expected = found.chance_over.copy(), found.early + x_last, found.expected + x_last
    scale = past.answers.points.scale
    before = np.flatnonzero((ahead < 0) & ~np.isnan(chance))
    if before.size:
        chance[before] = past.take(before).chance_at((x_last + ahead)[before] / scale)
    rows = np.flatnonzero((early == x_last) & (x_last > 0))
    if rows.size:
        first = past.take(rows).first_reached(risk[rows], np.full(rows.size, 0.5))
        early[rows] = scale * first[0]
        expected[rows] = np.where(expected[rows] == x_last[rows], scale * first[1], expected[rows])
    return Crossings(chance, early, expected, found.falling_chance)


def _departure_of_last(answers):
    """Standard deviations from each segment's last reading to what all others say; nan without a reading."""
    if not answers.piece.readings_each:
        return np.full(len(answers.piece.rows), np.nan)
    residual, variance = answers.departure_of_last()
    return residual / np.sqrt(variance)


def _is_newest(readings, count):
    """Mask of the readings that are the newest of their segment, one of `count`."""
    newest = np.full(count, -np.inf)
    np.maximum.at(newest, readings.segment, readings.x)
    return readings.x == newest[readings.segment]


def _departures_of(points, readings, segments, wanted, newest):
    """Departure of the newest reading of the `wanted` segments, their `newest` readings taken in again."""
    rows, new_row = np.flatnonzero(wanted), np.cumsum(wanted) - 1
    some = readings.take(wanted[readings.segment] & (~readings.left_out | newest))
    some = replace(some, segment=new_row[some.segment])
    answer = np.empty(len(rows))
    for piece in points.pieces_of(some, segments.length_m[rows]):
        answer[piece.rows] = _departure_of_last(PieceAnswers.of(piece, points))
    return answer


def _single(model, readings, used, segments):
    """Without a pool model: own lines where there are three readings on three days, else unknown."""
    count = len(segments.length_m)
    table = np.full((11, count), np.nan)
    reason = np.full(count, None, object)
    reason[:] = _NO_DATE[model.no_model_reason]
    for row in np.flatnonzero(np.bincount(used.segment, minlength=count) >= READINGS_NEEDED):
        mine = used.segment == row
        if has_own_fit(used.x[mine]):
            asked = (part[row] for part in (segments.now, segments.limit_db, segments.accepted_risk, segments.horizon))
            found = single_trend(used.x[mine], used.loss_db[mine], *asked)
            crossings = found.chance_over, found.early, found.expected, found.falling_chance
            table[:, row] = (*found.state, found.x_last, *crossings)
            reason[row] = _single_reason(found)
    return SegmentStates(*table[:6]), table[6], Crossings(*table[7:11]), np.full(count, np.nan), reason


def _single_reason(found):
    if np.isnan(found.chance_over):
        return NoDateReason.FALLING
    if not found.settled:
        return NoDateReason.NOT_SETTLED
    return NoDateReason.LATER if np.isinf(found.early) else None
