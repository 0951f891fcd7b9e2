"""The shift of a bench day that is newer than the fit, from the readings of other segments on it.

shift = sum(r / v) / (1 / tau^2 + sum 1 / v), sd = (1 / tau^2 + sum 1 / v)^(-1/2): the normal posterior of one common
shift under its prior N(0, tau^2). r = reading - predicted loss, v = sigma^2 + s^2(t) of a segment; of a reference piece
r = reading - agreed value, v = its repeatability^2 + the value's uncertainty^2. What remains of the error of a reading
corrected by it is sigma^2 + sd^2; nothing is ever subtracted twice.
"""

import numpy as np

from .reading_blocks import lay_out, settled
from .wear_states import PieceAnswers


def predict(model, before, after, length_m):
    """(mean, variance) dB of each reading `after` the readings `before` under a PoolModel, without its bench day's
    shift: sigma^2 is in the variance. Readings after count within the same segments."""
    points, mean, variance = model.points, np.empty(len(after.x)), np.empty(len(after.x))
    used = before.take(~before.left_out)
    row = np.argsort(after.segment, kind="stable")
    start = np.searchsorted(after.segment[row], np.arange(len(length_m) + 1))
    for block in lay_out(used, length_m, points.keys, points.scale):
        # a segment as often as readings of it are asked for
        times = np.diff(start)[block.rows]
        asked = np.concatenate([row[start[i] : start[i + 1]] for i in block.rows.tolist()]) if len(times) else row[:0]
        if not len(asked):
            continue
        repeated = block.take(np.repeat(np.arange(len(block.rows)), times.astype(int)))
        answers = PieceAnswers.of(repeated, points)
        target = answers.at(after.x[asked] / points.scale, settled(after.years[asked]))
        mean[asked] = points.weight @ target.level
        spread = points.sigma2[:, None] + np.maximum(target.c00, 0.0) + (target.level - mean[asked]) ** 2
        variance[asked] = points.weight @ spread
    return mean, variance


def new_day_shifts(model, day, residual_db, variance_db2, segment=None):
    """(shift, sd) in dB for each reading of days that are not in the fit, its own segment's readings left out.

    `day` (readings,) keys, `residual_db` reading - prediction, `variance_db2` of it; `segment` (readings,) rows, -1 for
    a reference piece: its reading counts for all. None: every reading is another segment's. A day's shift for all
    comers is that of `day_shift`.
    """
    prior = 1 / tau2(model)
    keys, row = np.unique(day, return_inverse=True)
    weight, pull = (np.bincount(row, part, len(keys))[row] for part in (1 / variance_db2, residual_db / variance_db2))
    own = np.ones(len(day), bool) if segment is None else segment >= 0
    precision = prior + weight - own / variance_db2
    return (pull - own * residual_db / variance_db2) / precision, np.sqrt(1 / precision)


def day_shift(model, day, residual_db, variance_db2):
    """(keys, readings, shift, sd) of each new day, from all its readings."""
    keys, row, count = np.unique(day, return_inverse=True, return_counts=True)
    weight, pull = (np.bincount(row, part, len(keys)) for part in (1 / variance_db2, residual_db / variance_db2))
    precision = 1 / tau2(model) + weight
    return keys, count, pull / precision, np.sqrt(1 / precision)


def lone_shifts(model, readings, length_m):
    """(keys, shift, sd) of the bench days of the fit that hold a single reading, from what is expected of that one.

    Of N(0, tau^2) given a residual r = s + rest of variance V: tau^2 r / V, and tau^2 (1 - tau^2 / V) of variance.
    """
    points, prior = model.points, tau2(model)
    lone = (readings.day >= 0) & ~np.isin(readings.day, points.keys)
    of_lone = np.isin(readings.segment, readings.segment[lone])
    rows = np.flatnonzero(of_lone & ~readings.left_out)
    residual, variance = np.full((2, len(lone)), np.nan)
    for block in lay_out(readings.take(rows), length_m, points.keys, points.scale):
        for piece in block.pieces(len(points.weight)) if block.readings_each else ():
            reading = rows[piece.reading]
            residual[reading], variance[reading] = PieceAnswers.of(piece, points).departures()
    lone &= ~readings.left_out
    share = prior / np.maximum(variance[lone], prior)
    return readings.day[lone], share * residual[lone], np.sqrt(prior * (1 - share))


def without_own(shift_db, sd_db, residual_db, variance_db2):
    """(shift, sd) of a new day without one reading that is a part of it: its term is taken out of both sums."""
    precision = 1 / sd_db**2 - 1 / variance_db2
    return (shift_db / sd_db**2 - residual_db / variance_db2) / precision, np.sqrt(1 / precision)


def tau2(model):
    """Variance of a bench day's shift, dB^2, over the points; never nothing."""
    points = model.points
    return max(float(points.weight @ (points.relative.day * points.sigma2)), 1e-12)
