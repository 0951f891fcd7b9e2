"""A bench day whose set-up was off is named; the others are not."""

import numpy as np
import pytest

from inspections.numeric.bench_days import bench_day_shifts
from inspections.numeric.pool_model import Readings, fit_pool_model


def make_pool(shift_db=0.0, segments=80, seed=1):
    """A pool with an as-new reading each and four readings on 40 bench days; day 17 reads `shift_db` too high."""
    rng = np.random.default_rng(seed)
    length_m = rng.choice([1.0, 2.0], segments)
    day = np.concatenate([rng.choice(40, 4, replace=False) for _ in range(segments)])
    segment = np.concatenate([np.arange(segments), np.repeat(np.arange(segments), 4)])
    x = np.concatenate([np.zeros(segments), 0.3 + day / 10])
    day = np.concatenate([np.full(segments, -1), day])
    level = 0.2 + 0.5 * length_m + 0.05 * rng.standard_normal(segments)
    rate = 0.1 + 0.1 * length_m + 0.05 * rng.standard_normal(segments)
    y = level[segment] + rate[segment] * x + 0.07 * rng.standard_normal(len(x))
    return Readings.of(segment, x, y + shift_db * (day == 17), day < 0), length_m, day


def test_shifts_agree_with_dense_generalised_least_squares():
    # one more constant for the day's readings, at the fitted variances, by full n x n matrices
    readings, length_m, day = make_pool()
    fit = fit_pool_model(readings, length_m).fit
    found = bench_day_shifts(fit, readings, length_m, day, 40)
    sd_u, sd_v, r = fit.deviations
    one, x, length = np.ones(len(readings.x)), readings.x, length_m[readings.segment]
    z = np.column_stack([one, x])
    d = np.array([[sd_u**2, r * sd_u * sd_v], [r * sd_u * sd_v, sd_v**2]])
    v = (z @ d @ z.T) * (readings.segment[:, None] == readings.segment) + fit.sigma2 * np.eye(len(x))
    for one_day in (0, 17, 39):
        design = np.column_stack([one, length, x, length * x, day == one_day])
        information = design.T @ np.linalg.solve(v, design)
        beta = np.linalg.solve(information, design.T @ np.linalg.solve(v, readings.loss_db))
        assert found.shift_db[one_day] == pytest.approx(beta[-1], rel=1e-7)
        assert found.standard_error_db[one_day] == pytest.approx(np.sqrt(np.linalg.inv(information)[-1, -1]), rel=1e-7)


def test_the_day_that_read_too_high_is_named_alone():
    readings, length_m, day = make_pool(shift_db=0.2)
    fit = fit_pool_model(readings, length_m).fit
    found = bench_day_shifts(fit, readings, length_m, day, 40)
    assert np.flatnonzero(found.departs).tolist() == [17]
    assert found.shift_db[17] == pytest.approx(0.2, abs=3 * found.standard_error_db[17])
    assert 0 < found.mean_residual_db[17] < found.shift_db[17]


def test_sound_days_are_not_named():
    readings, length_m, day = make_pool(seed=2)
    found = bench_day_shifts(fit_pool_model(readings, length_m).fit, readings, length_m, day, 40)
    assert not found.departs.any()
    assert found.readings.sum() == 320


def test_a_day_without_readings_says_nothing():
    readings, length_m, day = make_pool()
    found = bench_day_shifts(fit_pool_model(readings, length_m).fit, readings, length_m, day, 41)
    assert found.readings[40] == 0
    assert np.isnan([found.mean_residual_db[40], found.shift_db[40], found.p_value[40]]).all()
    assert not found.departs[40]
