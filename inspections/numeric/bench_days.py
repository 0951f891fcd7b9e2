"""Readings of one bench day share its set-up error: how far does each day stand off the pooled lines?

For day d with indicator z_d, the shift is the generalised least-squares estimate of one more constant for its readings,
    shift = z'P y / z'P z,   variance sigma^2 / z'P z,   P = V^-1 - V^-1 X A^-1 X'V^-1 (sigma = 1),
at the fitted variances (Searle, Casella & McCulloch 1992, Variance Components, chapter 6, for P). P y are the
residuals about the segments' own lines; z'P z counts how much of each residual the lines have left free. Each day by
itself: a day that departs drags its neighbours' residuals a little.
"""

from dataclasses import dataclass

import numpy as np

from .line_checks import alarm_threshold
from .mixed_model import FixedPart, weigh
from .posteriors import b_matrix, lines_in_frame, own_part
from .segment_sums import sum_by_segment


@dataclass(frozen=True)
class BenchDays:
    """Per bench day: mean residual and estimated shift (dB), standard error of the shift, two-sided P-value, and
    whether the day departs beyond chance; nan where a day has no reading, or its shift cannot be told from the
    lines."""

    readings: np.ndarray
    mean_residual_db: np.ndarray
    shift_db: np.ndarray
    standard_error_db: np.ndarray
    p_value: np.ndarray
    departs: np.ndarray


def bench_day_shifts(fit, readings, length_m, day, days):
    """BenchDays of `days` days under a PoolFit.

    `readings`: all Readings of the fit; `day`: the bench day of each, shape (readings,), -1 for an as-new reading.
    """
    from scipy.special import ndtr

    residual, free, x_part = _residuals(fit, readings, length_m)
    count, total, freedom = (_by_day(values, day, days) for values in (np.ones(len(day)), residual, free))
    x_part = np.stack([_by_day(column, day, days) for column in x_part])
    freedom -= np.einsum("pd,pq,qd->d", x_part, fit.beta_inverse, x_part)
    freedom = np.where(freedom > 1e-9, freedom, np.nan)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = total / count
    shift, error = total / freedom, fit.residual_sd / np.sqrt(freedom)
    p = 2 * ndtr(-np.abs(shift / error))
    return BenchDays(count.astype(int), mean, shift, error, p, p <= alarm_threshold(p))


def _by_day(values, day, days):
    dated = day >= 0
    return np.bincount(day[dated], values[dated], days)


def _residuals(fit, readings, length_m):
    """Per reading: residual about its segment's line (dB), the share 1 - z'Lz the line leaves free, and X'V^-1 of
    it."""
    frame, segment = fit.frame, readings.segment
    sums = sum_by_segment(segment, readings.x, readings.loss_db, len(length_m), frame)
    fixed = FixedPart.of(length_m, fit.with_length)
    lines, det = lines_in_frame(sums, fixed, fit.relative, fit.beta, fit.beta_inverse), weigh(sums, fit.relative).det
    x = (readings.x - frame.x_centre) / frame.x_scale
    residual = readings.loss_db - frame.y_centre - lines.intercept[segment] - lines.rate[segment] * x
    o00, o01, o11 = (part[segment] for part in own_part(sums, fit.relative, det))
    b00, b01, b10, b11 = (part[segment] for part in b_matrix(sums, fit.relative, det))
    columns = fixed.columns[:, segment]
    return (
        residual,
        1 - o00 - x * (2 * o01 + x * o11),
        np.concatenate([columns * (b00 + b10 * x), columns * (b01 + b11 * x)]),
    )
