"""What the readings of a pool can tell: a rise, a scatter, a difference between lengths."""

import numpy as np

# what more readings cannot take back is first looked for in so many
SOME = 2000
# Own lines this close to the readings, beside their spread, are no noise at all: invented or copied readings.
NO_NOISE = 1e-7


def on_two_days(readings):
    """How many segments have readings at two times."""
    return _with_a_spread(readings.segment, readings.x)


def lengths_can_be_told_apart(readings, length_m):
    """True where length terms may be fitted: at least two lengths have readings, and at least two a spread in x."""
    for some in (readings.take(slice(SOME)), readings):
        _, group = np.unique(length_m[some.segment], return_inverse=True)
        if len(group) and _with_a_spread(group, some.x) >= 2:
            return True
    return False


def _with_a_spread(group, x):
    """How many groups of readings hold two different times `x`."""
    count = int(group.max()) + 1
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, group, x)
    np.maximum.at(high, group, x)
    return int((high > low).sum())


def own_lines_have_no_noise(readings):
    """True where the readings of every segment lie on a line of its own, three or more at least once."""
    no_noise = len(readings.x) * (NO_NOISE * np.std(readings.loss_db)) ** 2
    for some in (readings.take(slice(SOME)), readings):
        squares = _squares_about_own_lines(some)
        if squares.sum() > no_noise:
            return False
    return squares.size > 0


def _squares_about_own_lines(readings):
    """Of the readings of segments with three or more: squared residuals about a line of each segment."""
    rows = np.flatnonzero(np.bincount(readings.segment)[readings.segment] > 2)
    if not rows.size:
        return np.empty(0)
    segment, x, y = readings.segment[rows], readings.x[rows], readings.loss_db[rows]
    count = np.maximum(np.bincount(segment), 1)
    dx, dy = (values - (np.bincount(segment, values) / count)[segment] for values in (x, y))
    sxx, sxy = np.bincount(segment, dx * dx), np.bincount(segment, dx * dy)
    residual = dy - np.divide(sxy, sxx, out=np.zeros_like(sxx), where=sxx > 0)[segment] * dx
    return residual**2
