"""Does a whole bench day stand off from the lines? Its readings share the set-up error of that day.

The residual of a reading about its segment's posterior line has variance sigma^2 (1 - z'C z/sigma^2), z = (1, x), with
C the covariance of the line: the diagonal of sigma^2 P, P = V^-1 - V^-1 X (X'V^-1 X)^-1 X'V^-1 (Searle, Casella &
McCulloch 1992, Variance Components, section 7.4; from memory, derived again here). The mean of a day is tested as
normal; that the residuals of different segments are correlated a little, and negatively, through the mean lines is left
out, which errs to the side of not naming a day.
"""

from dataclasses import dataclass

import numpy as np

from .line_checks import alarm_threshold


@dataclass(frozen=True)
class BenchDays:
    """One row a day, in order: readings, their mean residual in dB, its P-value, and whether the day departs."""

    day: np.ndarray
    readings: np.ndarray
    mean_residual_db: np.ndarray
    p_value: np.ndarray
    departs: np.ndarray


def bench_days(day, x, loss_db, lines, sigma_db):
    """BenchDays of readings (arrays of one length) about `lines`, the SegmentLines of each reading's own segment.

    Days with a single reading are listed, with a P-value all the same. `sigma_db`: residual sd of the pool.
    """
    from scipy.special import ndtr

    residual = loss_db - lines.at(x)
    free = np.maximum(sigma_db**2 - lines.sd_at(x) ** 2, 1e-12)
    days, row = np.unique(day, return_inverse=True)
    count = np.bincount(row, minlength=len(days))
    mean = np.bincount(row, residual, minlength=len(days)) / np.maximum(count, 1)
    spread = np.sqrt(np.bincount(row, free, minlength=len(days))) / np.maximum(count, 1)
    p_value = 2 * ndtr(-np.abs(mean) / np.maximum(spread, 1e-12))
    return BenchDays(days, count, mean, p_value, p_value <= alarm_threshold(p_value))
