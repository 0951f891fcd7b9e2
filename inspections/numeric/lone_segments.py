"""A segment that stands alone: its own straight line by Student's t, where there is no pool to borrow from.

Needs three readings at three times. Chance = T_{n-2}((a + b t - L) / se(t)); dates from the same quantile, none where
Fieller's g >= 1 (the rate is not told from nothing at that confidence).
"""

from dataclasses import dataclass

import numpy as np

from .crossings import FALLING_ABOVE, time_at_z
from .lines import fit_line
from .posteriors import SegmentLines

READINGS_NEEDED = 3


@dataclass(frozen=True)
class LoneTrend:
    """`lines`: the line and its covariance (scalars); times on the wear clock, inf later than the horizon, nan no
    answer."""

    lines: SegmentLines
    falling_chance: float
    chance_over: float = float("nan")
    early: float = float("nan")
    expected: float = float("nan")
    settled: bool = True


def stands_alone(x):
    """True where a line of one's own, with a spread, can be had: three readings at three times."""
    return len(np.unique(x)) >= READINGS_NEEDED


def band_standard_errors(readings):
    """Half the width of the 90 % band about a lone line of so many readings, in standard errors of the line."""
    return _quantile(0.95, readings - 2)


def lone_trend(x, y, now, limit_db, risk, horizon):
    """LoneTrend of one segment's readings `x` (wear clock), `y` (dB), at least three at three times."""
    line = fit_line(x, y)
    lines = posterior(line)
    falls = _student_tail(-line.slope, line.slope_se, line.degrees)
    if falls > FALLING_ABOVE:
        return LoneTrend(lines, falls)
    chance = _student_tail(line.at(now) - limit_db, line.line_se(now), line.degrees)
    z = _quantile(risk, line.degrees)
    if not line.slope > 0 or (z * line.slope_se / line.slope) ** 2 >= 1:
        return LoneTrend(lines, falls, chance, settled=False)
    early = float(time_at_z(lines, limit_db, z))
    expected = max((limit_db - line.intercept) / line.slope, 0.0)
    return LoneTrend(lines, falls, chance, *(t if t <= horizon else float("inf") for t in (early, expected)))


def _student_tail(difference, se, degrees):
    """P(true difference > 0) by Student's t; 0, 1/2 or 1 where the readings have no scatter at all."""
    from scipy.special import stdtr

    return float(stdtr(degrees, difference / se)) if se > 0 else float(np.heaviside(difference, 0.5))


def _quantile(chance, degrees):
    from scipy.special import stdtrit

    return float(stdtrit(degrees, chance))


def posterior(line):
    """SegmentLines of one line, with the covariance s^2 (X'X)^-1 of (intercept, slope)."""
    c11 = line.slope_se**2
    return SegmentLines(*map(np.asarray, (line.intercept, line.slope, line.intercept_se**2, -line.x_mean * c11, c11)))
