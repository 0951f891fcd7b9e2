"""How far the mean lines of a pool rest on single segments: what moves when all readings of one are left out.

At the variance parameters of the fit, leaving out segment i changes fixed part and shifts by
    x_(-i) - x = -H^-1 X_i' (V_i - O_i)^-1 r_i,   O_i = X_i H^-1 X_i',   r_i = y_i - X_i x
(Cook & Weisberg 1982, Residuals and Influence in Regression, section 3.6; from memory, tested by leaving out). That is
exact at these parameters; that a fit without the segment would find others is left aside.
"""

from typing import NamedTuple

import numpy as np

from .block_algebra import multiply
from .departures import departed
from .reading_blocks import SETTLING_YEARS, settled
from .wear_model import SETTLING_PRIOR
from .wear_states import PieceAnswers

ROUNDS = 4


class Influences(NamedTuple):
    """Of some lengths and all segments of a pool. `expected`: the clock at which the mean of each length reaches the
    limit, nan where that is never, or later than asked; `later`: (lengths, segments) by how much later it would be
    without that segment (inf: never)."""

    expected: np.ndarray
    later: np.ndarray


def influences(model, readings, length_m, asked_m, *, limit_db, within):
    """Influences of each segment (`length_m`, and all its `readings`) on the mean of lengths `asked_m` under `model`.

    `within`: as far ahead on the clock as an expected day matters.
    """
    points, length_m, asked_m = model.points, np.asarray(length_m, float), np.asarray(asked_m, float)
    _, high_last = departed(points, readings, readings.left_out, length_m)
    changed = _changes(points, readings.take(~readings.left_out & ~high_last), length_m)
    values = points.weight @ points.values
    t = _reached(points, values, asked_m, limit_db)
    t[~(t * points.scale <= within)] = np.nan
    at = points.columns.of(asked_m, t, settled(t))
    rate = _rate(points, values, asked_m, t)[:, None] + points.columns.rate_of(asked_m).T @ changed
    later = np.where(rate > 0, -(at.T @ changed) / np.where(rate > 0, rate, 1.0), np.inf)
    return Influences(t * points.scale, np.where(np.isnan(t)[:, None], np.nan, later * points.scale))


def _reached(points, values, length_m, limit_db):
    """Scaled time at which the mean of each length reaches the limit; nan for one that is there already, or never."""
    rate = values @ points.columns.rate_of(length_m)
    t = np.zeros(len(length_m))
    for _ in range(ROUNDS):
        level = values @ points.columns.of(length_m, np.zeros_like(t), settled(t))
        t = np.maximum((limit_db - level) / np.where(rate > 0, rate, np.nan), 0.0)
    return np.where(t > 0, t, np.nan)


def _rate(points, values, length_m, t):
    """Rise of the mean at t, what settles included."""
    settling = SETTLING_PRIOR * values[-1] * np.exp(-t / SETTLING_YEARS) / SETTLING_YEARS if points.settling else 0.0
    return values @ points.columns.rate_of(length_m) + settling


def _changes(points, readings, length_m):
    """(columns, segments): by how much each fixed value changes without the readings of a segment; dB."""
    changes = np.zeros((len(points.columns), len(length_m)))
    for piece in points.pieces_of(readings, length_m):
        changes[:, piece.rows] = _changes_of_piece(PieceAnswers.of(piece, points))
    return changes


def _changes_of_piece(answers):
    """-H^-1 X' (V - O)^-1 r = G P (P O P - P)^-1 P r."""
    shared, own = np.moveaxis(answers.shared, -1, 1), np.moveaxis(answers.own, -1, 1)
    left_out = np.linalg.solve(shared, own[..., None])[..., 0]
    cross = multiply(answers.with_fixed, answers.p)
    return np.einsum("g,gajs,gsj->as", answers.points.weight, cross, left_out, optimize=True)
