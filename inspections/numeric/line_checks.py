"""Do a segment's readings lie on a line at all? A curve or a step must not become a date.

P_i is the upper chi^2 tail of the squares about the segment's own line, over sigma^2, with n - 2 degrees; from four
readings on, twice the smaller of that and the two-sided tail of the standardised last residual.

Where the whole pool curves the same way, its sigma has swallowed the curves, and no segment would stand out (of the 21
fatigue cracks of Hudak et al. 1978 fourteen passed). Then sigma is taken about each segment's own parabola, and P_i is
twice the smaller of the above and the two-sided tail of the segment's own quadratic term.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .segment_sums import Frame, SegmentSums

# Three sigma, and the share of false alarms among the flagged (Benjamini & Hochberg 1995, J. R. Stat. Soc. B 57,
# 289-300).
SINGLE_LEVEL = 0.0027
FALSE_SHARE = 0.10


class SummedReadings(NamedTuple):
    """Readings (`segment`, `x` on the wear clock, `y` dB, in the order taken) with the sums and frame made of them."""

    segment: np.ndarray
    x: np.ndarray
    y: np.ndarray
    sums: SegmentSums
    frame: Frame


@dataclass(frozen=True)
class LineCheck:
    """How the lines of a pool are judged; stored with it, so that one segment can be judged later.

    `sigma_db` of a reading about its line; `pool_curves`: the pool as a whole bends one way; `threshold`: P-value at or
    below which readings do not follow a line.
    """

    sigma_db: float
    pool_curves: bool
    threshold: float


def set_up_line_check(readings, sigma_db):
    """LineCheck of a pool fitted with `sigma_db`."""
    rows = np.flatnonzero(_at_three_times(readings))
    bend, squares = (part[rows] for part in _quadratic_terms(readings))
    curves = _signs_lean(bend)
    if curves:
        sigma_db = min(sigma_db, _sigma_about_parabolas(readings.sums, rows, bend, squares))
    unset = LineCheck(float(sigma_db), curves, 0.0)
    return LineCheck(unset.sigma_db, curves, alarm_threshold(line_p_values(readings, unset)))


def line_p_values(readings, check):
    """P-value per segment that its readings lie on a line; nan with fewer than three readings at three times."""
    from scipy.special import chdtrc

    sums = readings.sums
    p, rows = np.full(len(sums.n), np.nan), np.flatnonzero(_at_three_times(readings))
    many = sums.n[rows] > 3
    scatter = chdtrc(sums.n[rows] - 2, sums.own_line_squares[rows] / check.sigma_db**2)
    found = np.where(many, _smaller_of_two(scatter, _last_residual_tail(readings, rows, check.sigma_db)), scatter)
    if check.pool_curves:
        bend, squares = (part[rows] for part in _quadratic_terms(readings))
        found = _smaller_of_two(found, _two_sided(bend / (check.sigma_db * np.sqrt(squares))))
    p[rows] = found
    return p


def _smaller_of_two(first, second):
    """P-value of the smaller of two, doubled for having looked twice (Bonferroni)."""
    return np.minimum(2 * np.minimum(first, second), 1.0)


def _two_sided(z):
    from scipy.special import ndtr

    return 2 * ndtr(-np.abs(z))


def _at_three_times(readings):
    count = len(readings.sums.n)
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, readings.segment, readings.x)
    np.maximum.at(high, readings.segment, readings.x)
    between = (readings.x > low[readings.segment]) & (readings.x < high[readings.segment])
    return np.bincount(readings.segment[between], minlength=count) > 0


def _last_reading(readings):
    """Row of each segment's reading with the largest x, the later row of equals."""
    latest = np.full(len(readings.sums.n), -np.inf)
    np.maximum.at(latest, readings.segment, readings.x)
    rows = np.flatnonzero(readings.x == latest[readings.segment])
    last = np.zeros(len(readings.sums.n), int)
    np.maximum.at(last, readings.segment[rows], rows)
    return last


def _last_residual_tail(readings, rows, sigma_db):
    """Two-sided normal tail of e_last / (sigma sqrt(1 - h_last)), h the leverage (Draper & Smith 1998, section 8.1)."""
    sums, last = readings.sums, _last_reading(readings)[rows]
    dx, dy = (part[last] for part in _about_means(readings))
    slope = sums.e1[rows] / (sums.n[rows] * sums.x_squares[rows])
    leverage = 1 / sums.n[rows] + dx**2 / sums.x_squares[rows]
    return _two_sided((dy - slope * dx) / (sigma_db * np.sqrt(np.maximum(1 - leverage, 1e-12))))


def _about_means(readings):
    """x (in the frame) and y of every reading, less the mean of its segment."""
    n = np.maximum(readings.sums.n, 1)
    dx = (readings.x - readings.frame.x_centre) / readings.frame.x_scale - (readings.sums.x / n)[readings.segment]
    return dx, readings.y - readings.frame.y_centre - (readings.sums.y / n)[readings.segment]


def _quadratic_terms(readings):
    """(sum q y, sum q^2) per segment, q = x^2 made orthogonal to the segment's own straight line."""
    segment, sums, count = readings.segment, readings.sums, len(readings.sums.n)
    dx, dy = _about_means(readings)
    squares = dx * dx
    tilt = np.bincount(segment, squares * dx, count) / np.where(sums.x_squares > 0, sums.x_squares, 1.0)
    q = squares - (sums.x_squares / np.maximum(sums.n, 1))[segment] - tilt[segment] * dx
    return np.bincount(segment, q * dy, count), np.bincount(segment, q * q, count)


def _signs_lean(values):
    """Two-sided sign test at SINGLE_LEVEL (Conover 1999, Practical Nonparametric Statistics, section 3.4).

    A few stepped segments do not decide it; where the common curve is slight, nor does its finding change much.
    """
    from scipy.special import bdtr

    above, below = int((values > 0).sum()), int((values < 0).sum())
    return bool(2 * bdtr(min(above, below), above + below, 0.5) <= SINGLE_LEVEL)


def _sigma_about_parabolas(sums, rows, bend, squares):
    many = sums.n[rows] > 3
    left = np.maximum(sums.own_line_squares[rows] - bend**2 / squares, 0.0)[many].sum()
    degrees = (sums.n[rows] - 3)[many].sum()
    return np.sqrt(left / degrees) if degrees and left > 0 else np.inf


def alarm_threshold(p_values):
    """P-value at or below which something departs beyond chance: min(0.0027, Benjamini-Hochberg at 10 %); nan: no test.

    The threshold is the level of the last rejected rank, k q / m, which flags the same segments as the k-th P-value
    itself. With none rejected it is the level of the first rank, q / m: none of these is flagged, a later step can be.
    """
    p = np.sort(p_values[~np.isnan(p_values)])
    tests = max(p.size, 1)
    rejected = int(np.flatnonzero(p <= FALSE_SHARE * np.arange(1, p.size + 1) / tests).max(initial=-1)) + 1
    return float(min(SINGLE_LEVEL, FALSE_SHARE * max(rejected, 1) / tests))
