"""Traps that trials of the pooled fit fell into, with their figures; one group of tests per trap."""

import numpy as np
import pytest
from pool_fits import standard_errors
from published import grouped

from inspections.numeric.crossings import crossing_time
from inspections.numeric.mixed_model import Deviance, FixedPart, RelativeCovariance
from inspections.numeric.pool_fit import fit_readings
from inspections.numeric.posteriors import lines_in_frame, segment_lines
from inspections.numeric.segment_sums import choose_frame, sum_by_segment
from inspections.numeric.straight_fit import TooFewReadings, fit_straight


def ones(count):
    return np.ones(count)


def simulate(seed, segments, readings, sd_rate=0.06, sigma=0.05):
    """1.2 dB + 0.15 dB a year, standard deviations 0.3 and 0.06, sigma 0.05 dB, over four years; and the true lines."""
    rng = np.random.default_rng(seed)
    n = readings(rng, segments) if callable(readings) else np.full(segments, readings)
    segment = np.repeat(np.arange(segments), n)
    x = rng.uniform(0, 4, len(segment))
    level, rate = 1.2 + 0.3 * rng.standard_normal(segments), 0.15 + sd_rate * rng.standard_normal(segments)
    return segment, x, level[segment] + rate[segment] * x + sigma * rng.standard_normal(len(segment)), level, rate


def lines_of(fit, segment, x, y, count):
    return segment_lines(sum_by_segment(segment, x, y, count, fit.frame), FixedPart.of(ones(count), False), fit)


# 1. Time not centred: with raw sums, days since 1970 gave a slope sd of 252 410 for 5.92, without an error; +1000:
# 4.80.
@pytest.mark.parametrize(("offset", "digits"), [(1000, 1e-7), (20_000, 1e-6)])
def test_days_since_1970_do_not_break_the_sums(offset, digits):
    segment, x, y, _ = grouped("sleepstudy")
    fit = fit_readings(segment, x + offset, y, ones(18))
    assert fit.deviations[1] == pytest.approx(5.9221331037, rel=digits)
    assert fit.rate_db[0] == pytest.approx(10.4672859596, rel=digits)
    assert fit.minus_two_log == pytest.approx(1743.6282719585, rel=1e-9)


def test_seconds_since_1970_do_not_break_the_sums():
    segment, x, y, _ = grouped("sleepstudy")
    fit = fit_readings(segment, 86_400.0 * (x + 20_000), y, ones(18))
    assert 86_400 * fit.deviations[1] == pytest.approx(5.9221331037, rel=1e-6)


# 2. The unit of time: log REML changes by -ln c for x -> c x, the estimates transform exactly.
def test_log_reml_shifts_by_the_log_of_the_unit_of_time():
    segment, x, y, _ = grouped("sleepstudy")
    days, seconds = fit_readings(segment, x, y, ones(18)), fit_readings(segment, 86_400 * x, y, ones(18))
    assert (seconds.minus_two_log - days.minus_two_log) / -2 == pytest.approx(-np.log(86_400), abs=1e-6)
    assert 86_400 * seconds.rate_db[0] == pytest.approx(days.rate_db[0], rel=1e-9)
    assert 86_400 * seconds.deviations[1] == pytest.approx(days.deviations[1], rel=1e-9)
    assert seconds.sigma2 == pytest.approx(days.sigma2, rel=1e-9)


# 3. The boundary is a legal result, and flagged.
def test_early_lasers_fit_at_a_correlation_of_minus_one():
    # Lasers to 1000 h: log REML 21.867546; a library stopped at 20.764977 and called that converged.
    segment, hours, percent, _ = grouped("lasers")
    early = hours <= 1000
    fit = fit_readings(segment[early], hours[early] / 1000, percent[early], ones(15))
    assert fit.minus_two_log / -2 == pytest.approx(21.867546, abs=1e-6)
    assert fit.deviations[2] == pytest.approx(-1, abs=1e-6)
    assert fit.at_boundary
    lines = lines_of(fit, segment[early], hours[early] / 1000, percent[early], 15)
    assert (lines.c00 >= 0).all()
    assert (lines.c11 >= 0).all()
    assert np.isfinite(crossing_time(lines, 10, 0.05)).all()


def test_rates_without_spread_are_found_as_such():
    segment, x, y, *_ = simulate(31, 200, 5, sd_rate=0.0)
    fit = fit_readings(segment, x, y, ones(200))
    assert fit.deviations[1] < 0.015


def test_a_fit_inside_is_not_flagged():
    segment, x, y, *_ = simulate(32, 200, 5)
    assert not fit_readings(segment, x, y, ones(200)).at_boundary


def test_boundary_is_no_worse_than_many_random_starts():
    segment, hours, percent, _ = grouped("lasers")
    early = hours <= 1000
    fit = fit_readings(segment[early], hours[early] / 1000, percent[early], ones(15))
    sums = sum_by_segment(segment[early], hours[early] / 1000, percent[early], 15, fit.frame)
    deviance = Deviance(sums, FixedPart.of(ones(15), False))
    best = deviance(fit.theta)[0]
    assert all(deviance(t)[0] >= best - 1e-9 for t in np.random.default_rng(2).normal(0, 5, (500, 3)))


# 4. A library as yardstick: on a part of sleepstudy (which, is not on record) it stopped 0.056 short of the best.
def test_posterior_standard_errors_are_those_of_generalised_least_squares():
    # unbalanced sleepstudy: slope SE 2.877 by GLS, where the library's own is 2.957
    segment, x, y, _ = grouped("sleepstudy")
    kept = x <= segment % 10
    fit = fit_readings(segment[kept], x[kept], y[kept], ones(18))
    assert standard_errors(fit)[1] == pytest.approx(2.877, abs=5e-4)


# 5. One and two readings need no special case; one reading each does not determine sigma.
def test_single_readings_shrink_to_the_pool():
    segment, x, y, *_ = simulate(51, 300, lambda rng, n: rng.integers(1, 6, n))
    fit = fit_readings(segment, x, y, ones(300))
    lines = lines_of(fit, segment, x, y, 300)
    single = np.bincount(segment) == 1
    many = np.bincount(segment) == 5
    away = np.abs(lines.rate - fit.rate_db[0])
    assert away[single].mean() < 0.5 * away[many].mean()
    assert (lines.c11[single] < fit.deviations[1] ** 2 * 1.01).all()


def test_pairs_determine_the_three_variances():
    # trial, true .30 / .08 / .05: .294 / .080 / .052
    segment, x, y, *_ = simulate(52, 2000, 2, sd_rate=0.08)
    fit = fit_readings(segment, x, y, ones(2000))
    assert (*fit.deviations[:2], fit.residual_sd) == pytest.approx((0.30, 0.08, 0.05), rel=0.1)


def test_single_readings_alone_need_sigma_from_the_instrument():
    segment, x, y, *_ = simulate(53, 3000, 1)
    fit = fit_readings(segment, x, y, ones(3000), sigma=0.05)
    assert fit.sigma_from_instrument
    assert fit.residual_sd == 0.05
    assert fit.deviations[0] == pytest.approx(0.30, rel=0.1)


# 6. Repeats on one day: real rows for sigma, but no spread in x for the segment's own line.
def test_repeats_on_one_day_have_no_slope_of_their_own():
    with pytest.raises(TooFewReadings):
        fit_straight([2.0, 2.0, 2.0], [1.0, 1.1, 0.9])
    segment, x, y, *_ = simulate(61, 50, 4)
    segment, x, y = np.append(segment, [50] * 3), np.append(x, [2.7] * 3), np.append(y, [1.6, 1.7, 1.65])
    fit = fit_readings(segment, x, y, ones(51))
    sums = sum_by_segment(segment, x, y, 51, fit.frame)
    assert sums.x_squares[50] == 0
    lines = lines_of(fit, segment, x, y, 51)
    assert lines.at(2.7)[50] == pytest.approx(1.65, abs=0.05)
    assert lines.c11[50] > 0.5 * fit.deviations[1] ** 2


# 7. Small pools: see test_small_pools.py. 9. Curves: see test_line_checks.py.


# 8. Removed segments stay in: they are removed because their loss is high.
def test_leaving_out_removed_segments_biases_the_rate_down():
    segment, x, y, level, rate = simulate(81, 4000, 5)
    removed = level + 4 * rate > 2.0
    kept = ~removed[segment]
    whole = fit_readings(segment, x, y, ones(4000))
    left = fit_readings(segment[kept], x[kept], y[kept], ones(4000))
    assert whole.rate_db[0] == pytest.approx(0.15, abs=0.004)
    assert left.rate_db[0] < 0.14


# 10. What pooling brings: trial, five readings, sigma .05, sd of rates .06: rate RMSE .0277 -> .0226, intervals
# narrower.
def test_pooling_beats_lines_of_their_own():
    segment, x, y, _, rate = simulate(101, 3000, 5)
    own = np.array([fit_straight(x[i : i + 5], y[i : i + 5]).slope for i in range(0, 15_000, 5)])
    fit = fit_readings(segment, x, y, ones(3000))
    pooled = lines_of(fit, segment, x, y, 3000).rate
    rmse_own, rmse_pooled = (np.sqrt(np.mean((found - rate) ** 2)) for found in (own, pooled))
    assert rmse_pooled < 0.9 * rmse_own


# Found on the way: L - L W L in place of L M^-1 L' turned variances negative.
@pytest.mark.parametrize("root", [(80.0, 0.0, 80.0), (2000.0, -1500.0, 0.0), (1e4, 1e4, 1e-3)])
def test_variances_stay_positive_at_large_ratios(root):
    segment, x, y, *_ = simulate(111, 60, lambda rng, n: rng.integers(0, 6, n))
    sums = sum_by_segment(segment, x, y, 60, choose_frame(x, y))
    lines = lines_in_frame(
        sums, FixedPart.of(ones(60), False), RelativeCovariance.from_root(*root), np.zeros(2), np.eye(2) * 1e-3
    )
    assert (lines.c00 > 0).all()
    assert (lines.c11 > 0).all()
    assert (lines.c00 * lines.c11 >= lines.c01**2 * (1 - 1e-6)).all()
