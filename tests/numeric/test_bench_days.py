"""Bench days: a day whose set-up was off is named, and honest days are not."""

from functools import cache

import numpy as np
import pytest

from inspections.numeric.bench_days import bench_days
from inspections.numeric.mixed_model import FixedPart
from inspections.numeric.pool_fit import fit_pool
from inspections.numeric.posteriors import segment_lines
from inspections.numeric.segment_sums import choose_frame, sum_by_segment

SEGMENTS, DAYS, SIGMA_DB = 60, 12, 0.05


def bench(seed, shift_db=0.0, shifted_day=7):
    """A pool measured on twelve bench days, half of its segments each; one day may be shifted as a whole."""
    rng = np.random.default_rng(seed)
    segment, day = np.nonzero(rng.random((SEGMENTS, DAYS)) < 0.5)
    x = day * 0.4
    level, rate = 1.2 + 0.1 * rng.standard_normal(SEGMENTS), 0.3 + 0.05 * rng.standard_normal(SEGMENTS)
    y = level[segment] + rate[segment] * x + SIGMA_DB * rng.standard_normal(len(segment))
    return segment, day, x, y + np.where(day == shifted_day, shift_db, 0.0)


def judge(segment, day, x, y):
    frame = choose_frame(x, y)
    sums = sum_by_segment(segment, x, y, SEGMENTS, frame)
    fixed = FixedPart.of(np.ones(SEGMENTS), with_length=False)
    fit = fit_pool(sums, fixed, frame)
    lines = segment_lines(sums, fixed, fit)
    return bench_days(day, x, y, lines.take(segment), fit.residual_sd)


def dense_variances(segment, x, fit):
    """Diagonal of sigma^2 P by n x n matrices."""
    z = np.zeros((len(x), 2 * SEGMENTS))
    z[np.arange(len(x)), 2 * segment], z[np.arange(len(x)), 2 * segment + 1] = 1, x
    root = np.array([[fit.theta[0], 0], [fit.theta[1], fit.theta[2]]])
    frame_z = z.copy()
    frame_z[np.arange(len(x)), 2 * segment + 1] = (x - fit.frame.x_centre) / fit.frame.x_scale
    v = np.eye(len(x)) + frame_z @ np.kron(np.eye(SEGMENTS), root @ root.T) @ frame_z.T
    inverse = np.linalg.inv(v)
    fixed = np.column_stack([np.ones(len(x)), x])
    p = inverse - inverse @ fixed @ np.linalg.inv(fixed.T @ inverse @ fixed) @ fixed.T @ inverse
    return fit.sigma2 * np.diag(p)


def test_variance_of_a_residual_agrees_with_dense_matrices():
    segment, _day, x, y = bench(3)
    frame = choose_frame(x, y)
    sums = sum_by_segment(segment, x, y, SEGMENTS, frame)
    fixed = FixedPart.of(np.ones(SEGMENTS), with_length=False)
    fit = fit_pool(sums, fixed, frame)
    lines = segment_lines(sums, fixed, fit).take(segment)
    assert fit.sigma2 - lines.sd_at(x) ** 2 == pytest.approx(dense_variances(segment, x, fit), rel=1e-7)


def test_a_day_with_a_shifted_set_up_is_named_with_its_size():
    found = judge(*bench(1, shift_db=0.1))
    assert found.departs[7] and found.p_value.argmin() == 7
    # the pool's own lines take up a part of the shift
    assert 0.06 < found.mean_residual_db[7] < 0.1


@cache
def false_alarms():
    return sum(int(judge(*bench(seed)).departs.sum()) for seed in range(100))


def test_honest_days_are_hardly_ever_named():
    # 1,200 days at a level of at most 0.0027 each: 3.2 expected, 9 or more with probability below 0.01 (Poisson)
    assert false_alarms() < 9
