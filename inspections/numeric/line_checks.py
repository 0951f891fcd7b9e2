"""Do a segment's readings lie on a line at all? A curve or a step must not become a date.

P_i is the upper chi^2 tail of the squares about the segment's own line, over sigma^2, with n - 2 degrees; from four
readings on, twice the smaller of that and the two-sided tail of the standardised last residual.
"""

import numpy as np

# Three sigma, and the share of false alarms among the flagged (Benjamini & Hochberg 1995, J. R. Stat. Soc. B 57,
# 289-300).
SINGLE_LEVEL = 0.0027
FALSE_SHARE = 0.10


def line_p_values(segment, x, sums, frame, y, sigma):
    """P-value per segment that its readings lie on a line; nan with fewer than three readings at three times.

    `segment`, `x`, `y`: the readings that `sums` were made of, in the caller's units and the order taken; `sigma`:
    dB, of the pool.
    """
    from scipy.special import chdtrc

    count = len(sums.n)
    p = np.full(count, np.nan)
    last = _last_reading(segment, x, count)
    rows = np.flatnonzero(_at_three_times(segment, x, count))
    scatter = chdtrc(sums.n[rows] - 2, sums.own_line_squares[rows] / sigma**2)
    end = _last_residual_tail(sums, rows, frame, x[last[rows]], y[last[rows]], sigma)
    p[rows] = np.where(sums.n[rows] > 3, np.minimum(2 * np.minimum(scatter, end), 1.0), scatter)
    return p


def _at_three_times(segment, x, count):
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, segment, x)
    np.maximum.at(high, segment, x)
    between = (x > low[segment]) & (x < high[segment])
    return np.bincount(segment[between], minlength=count) > 0


def _last_reading(segment, x, count):
    """Row of each segment's reading with the largest x, the later row of equals."""
    latest = np.full(count, -np.inf)
    np.maximum.at(latest, segment, x)
    rows = np.flatnonzero(x == latest[segment])
    last = np.zeros(count, int)
    np.maximum.at(last, segment[rows], rows)
    return last


def _last_residual_tail(sums, rows, frame, x, y, sigma):
    """Two-sided normal tail of e_last / (sigma sqrt(1 - h_last)), h the leverage (Draper & Smith 1998, section 8.1)."""
    from scipy.special import ndtr

    n, sxx = sums.n[rows], sums.x_squares[rows]
    dx = (x - frame.x_centre) / frame.x_scale - sums.x[rows] / n
    slope = sums.e1[rows] / (n * sxx)
    residual = y - frame.y_centre - sums.y[rows] / n - slope * dx
    leverage = 1 / n + dx**2 / sxx
    return 2 * ndtr(-np.abs(residual) / (sigma * np.sqrt(np.maximum(1 - leverage, 1e-12))))


def line_check_threshold(p_values):
    """P-value at or below which readings do not follow a line: min(0.0027, Benjamini-Hochberg at 10 %).

    The threshold is the level of the last rejected rank, k q / m, which flags the same segments as the k-th P-value
    itself. With none rejected it is the level of the first rank, q / m: none of these is flagged, a step read later
    can be.
    """
    p = np.sort(p_values[~np.isnan(p_values)])
    levels = FALSE_SHARE * np.arange(1, p.size + 1) / max(p.size, 1)
    rejected = int(np.flatnonzero(p <= levels).max(initial=-1)) + 1
    return float(min(SINGLE_LEVEL, FALSE_SHARE * max(rejected, 1) / max(p.size, 1)))
