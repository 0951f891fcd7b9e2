"""A single segment: its own straight line by Student's t, where there is no pool to borrow from.

Needs three readings at three times. Chance = T_{n-2}((a + b t - L) / se(t)); dates from the same quantile, none where
Fieller's g >= 1 (the rate is not told from nothing at that confidence).
"""

from dataclasses import dataclass

import numpy as np

from .crossings import FALLING_ABOVE, time_at_z
from .straight_fit import fit_straight
from .wear_states import SegmentStates

READINGS_NEEDED = 3


@dataclass(frozen=True)
class SingleTrend:
    """`state`: loss and rate at the last reading `x_last`, with their covariance (scalars); times on the wear clock
    since first fitted, inf later than the horizon, nan no answer."""

    state: SegmentStates
    x_last: float
    falling_chance: float
    chance_over: float = float("nan")
    early: float = float("nan")
    expected: float = float("nan")
    settled: bool = True


def has_own_fit(x):
    """True where a line of one's own, with a spread, can be had: three readings at three times."""
    return len(np.unique(x)) >= READINGS_NEEDED


def band_standard_errors(readings):
    """Half the width of the 90 % band about a single line of so many readings, in standard errors of the line."""
    return _quantile(0.95, readings - 2)


def single_trend(x, y, now, limit_db, risk, horizon):
    """SingleTrend of one segment's readings `x` (wear clock), `y` (dB), at least three at three times."""
    fit = fit_straight(x, y)
    x_last = float(np.max(x))
    state = state_at(fit, x_last)
    falls = _student_tail(-fit.slope, fit.slope_se, fit.degrees)
    if falls > FALLING_ABOVE:
        return SingleTrend(state, x_last, falls)
    chance = _student_tail(fit.at(now) - limit_db, fit.line_se(now), fit.degrees)
    z = _quantile(risk, fit.degrees)
    if not fit.slope > 0 or (z * fit.slope_se / fit.slope) ** 2 >= 1:
        return SingleTrend(state, x_last, falls, chance, settled=False)
    early = float(time_at_z(state_at(fit, 0.0), limit_db, z))
    expected = max((limit_db - fit.intercept) / fit.slope, 0.0)
    return SingleTrend(state, x_last, falls, chance, *(t if t <= horizon else float("inf") for t in (early, expected)))


def _student_tail(difference, se, degrees):
    """P(true difference > 0) by Student's t; 0, 1/2 or 1 where the readings have no scatter at all."""
    from scipy.special import stdtr

    return float(stdtr(degrees, difference / se)) if se > 0 else float(np.heaviside(difference, 0.5))


def _quantile(chance, degrees):
    from scipy.special import stdtrit

    return float(stdtrit(degrees, chance))


def state_at(fit, x):
    """SegmentStates of one StraightFit at `x`, with the covariance s^2 (X'X)^-1 of (loss at x, rate)."""
    c11 = fit.slope_se**2
    parts = (fit.at(x), fit.slope, fit.line_se(x) ** 2, (x - fit.x_mean) * c11, c11, 0.0)
    return SegmentStates(*map(np.asarray, parts))
