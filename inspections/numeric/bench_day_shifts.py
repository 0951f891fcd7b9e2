"""The shift of a bench day that is newer than the fit, from the readings of other segments on it.

shift = S r / (1 / tau^2 + S), sd = (1 / tau^2 + S)^(-1/2): the normal posterior of one common shift under its prior
N(0, tau^2). r: mean of the residuals (reading - predicted loss), weighted by 1 / v; S = 1 / (g + 1 / sum 1/v): what it
tells. v is of each reading alone, g common to all of the day, since the same lines of the pool stand behind all.
(Counted as independent, readings of mats that were fitted together gave a quarter of the uncertainty.) What remains of
the error of a reading corrected by it is sigma^2 + sd^2; nothing is ever subtracted twice. Readings of reference pieces
are further terms r / v.
"""

from typing import NamedTuple

import numpy as np

from .reading_blocks import lay_out, settled
from .wear_states import PieceAnswers

TINY = 1e-12
# what is left of a day without one reading counts as nothing below this share of that one
ALONE_BELOW = 1e-6


class Prediction(NamedTuple):
    """Of readings, without the shift of their bench day: `mean_db`; `variance_db2` with sigma^2 in it; `shared_db2`,
    what of that comes from lines and shifts of the whole pool; `common_db2`, what of it is common to the day."""

    mean_db: np.ndarray
    variance_db2: np.ndarray
    shared_db2: np.ndarray
    common_db2: np.ndarray

    def take(self, chosen):
        return Prediction(*(part[chosen] for part in self))


def predict(model, before, after, length_m):
    """Prediction of each reading `after` the readings `before` under a PoolModel. Readings after count within the same
    segments."""
    points, (mean, variance, shared) = model.points, np.empty((3, len(after.x)))
    keys, day = np.unique(after.day, return_inverse=True)
    leaning = np.zeros((len(points.weight), len(points.columns) + len(points.keys) + 1, len(keys)))
    for answers, asked in _asked_of(points, before.take(~before.left_out), after, length_m):
        t, f = after.x[asked] / points.scale, settled(after.years[asked])
        target, lean = answers.at(t, f), _leaning(answers, t, f)
        mean[asked] = points.weight @ target.level
        spread = points.sigma2[:, None] + np.maximum(target.c00, 0.0) + (target.level - mean[asked]) ** 2
        variance[asked] = points.weight @ spread
        shared[asked] = _variance_db2(points, lean)
        np.add.at(leaning, (slice(None), slice(None), day[asked]), lean / variance[asked])
    leaning /= np.maximum(np.bincount(day, 1 / variance, len(keys)), 1e-300)
    return Prediction(mean, variance, shared, _variance_db2(points, leaning)[day])


def _variance_db2(points, leaning):
    columns = len(points.columns)
    return points.weight @ (points.sigma2[:, None] * points.variance_of(leaning[:, :columns], leaning[:, columns:]))


def _asked_of(points, before, after, length_m):
    """Pairs of PieceAnswers and rows of the readings `after` asked of it, a segment as often as it is read."""
    row = np.argsort(after.segment, kind="stable")
    start = np.searchsorted(after.segment[row], np.arange(len(length_m) + 1))
    for block in lay_out(before, length_m, points.keys, points.scale):
        times = np.diff(start)[block.rows]
        if times.any():
            asked = np.concatenate([row[start[i] : start[i + 1]] for i in block.rows.tolist()])
            yield PieceAnswers.of(block.take(np.repeat(np.arange(len(times)), times)), points), asked


def _leaning(answers, t, f):
    """By how much the losses expected at `t` lean on the fixed columns and on the shift of each bench day: (points,
    columns + days + 1, segments), F - K X."""
    gap, on = answers.leaning_at(t, f)
    of_days = np.zeros((len(gap), len(answers.points.keys) + 1, len(t)))
    for day, part in zip(answers.piece.day, np.moveaxis(on, 1, 0), strict=True):
        of_days[:, day, np.arange(len(t))] -= part
    return np.concatenate([gap, of_days], axis=1)


def day_shift(model, day, residual_db, prediction, pieces=None):
    """(keys, readings, shift, sd) of each new day, from all its readings: `day` (readings,) keys, `residual_db`
    reading - prediction; `pieces`: PieceReadings, of which those of these days say something."""
    keys, row, count = np.unique(day, return_inverse=True, return_counts=True)
    own = _own(model, prediction.variance_db2, prediction.common_db2)
    told, pull = (np.bincount(row, part, len(keys)) for part in (1 / own, residual_db / own))
    common = np.bincount(row, prediction.common_db2, len(keys)) / np.maximum(count, 1)
    return keys, count, *_posterior(model, told, pull, common, *_of_pieces(pieces, keys))


def _of_pieces(pieces, keys):
    """(sum 1/v, sum r/v) of each day over its readings of reference pieces: v, their repeatability and the uncertainty
    of the agreed value."""
    if pieces is None:
        return np.zeros(len(keys)), np.zeros(len(keys))
    known = pieces.of_days(keys)
    row, weight = np.searchsorted(keys, known.day), 1 / (known.repeatability_db**2 + known.value_sd_db**2)
    return tuple(np.bincount(row, part, len(keys)) for part in (weight, weight * known.difference_db))


def without_own(model, shift_db, sd_db, residual_db, prediction, day=None, pieces=None):
    """(shift, sd) of a new day without one reading that is a part of it: what that one tells is taken out of what the
    day's `shift_db` and `sd_db` say that all tell together. `day` of each, and `pieces`, as `day_shift` had them."""
    prior, common = 1 / tau2(model), prediction.shared_db2
    own = _own(model, prediction.variance_db2, common)
    precision = 1 / sd_db**2
    told_besides, pull_besides = _of_pieces_by_reading(pieces, day)
    information = np.maximum(precision - prior - told_besides, TINY)
    mean = (shift_db * precision - pull_besides) / information
    told = 1 / np.maximum(1 / information - common, TINY)
    others = told - 1 / own
    alone = others < ALONE_BELOW / own
    pull = np.where(alone, 0.0, told * mean - residual_db / own)
    return _posterior(model, np.where(alone, 0.0, others), pull, common, told_besides, pull_besides)


def _of_pieces_by_reading(pieces, day):
    if pieces is None:
        return 0.0, 0.0
    keys, row = np.unique(day, return_inverse=True)
    return tuple(part[row] for part in _of_pieces(pieces, keys))


def _own(model, variance_db2, common_db2):
    """Variance of each reading besides what it has in common with the others; sigma^2 at least."""
    return np.maximum(variance_db2 - common_db2, float(model.points.weight @ model.points.sigma2))


def _posterior(model, told, pull, common_db2, told_besides=0.0, pull_besides=0.0):
    """(shift, sd) from sum 1/v, sum r/v over readings with an error of variance g in common: together they tell as much
    as one reading of variance g + 1 / sum 1/v. `besides`: the same sums of readings without that error."""
    information = told / (1 + common_db2 * told)
    precision = 1 / tau2(model) + information + told_besides
    mean = np.divide(pull, told, out=np.zeros_like(pull), where=told > 0)
    return (information * mean + pull_besides) / precision, np.sqrt(1 / precision)


def lone_shifts(model, readings, length_m):
    """(keys, shift, sd) of the bench days of the fit that hold a single reading, from what is expected of that one.

    Of N(0, tau^2) given a residual r = s + rest of variance V: tau^2 r / V, and tau^2 (1 - tau^2 / V) of variance.
    """
    points, prior = model.points, tau2(model)
    lone = (readings.day >= 0) & ~np.isin(readings.day, points.keys)
    of_lone = np.isin(readings.segment, readings.segment[lone])
    rows = np.flatnonzero(of_lone & ~readings.left_out)
    residual, variance = np.full((2, len(lone)), np.nan)
    for piece in points.pieces_of(readings.take(rows), length_m):
        reading = rows[piece.reading]
        residual[reading], variance[reading] = PieceAnswers.of(piece, points).departures()
    lone &= ~readings.left_out
    share = prior / np.maximum(variance[lone], prior)
    return readings.day[lone], share * residual[lone], np.sqrt(prior * (1 - share))


def tau2(model):
    """Variance of a bench day's shift, dB^2, over the points; never nothing."""
    points = model.points
    return max(float(points.weight @ (points.relative.day * points.sigma2)), 1e-12)
