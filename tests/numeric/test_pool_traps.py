"""Traps that trials of the pooled fit fell into, with their figures; one group of tests per trap.

Trap 1, times that are not centred: raw sums of days since 1970 gave a slope sd of 252 410 for 5.92. No sums are kept
any more, and the wear clock counts from the first fitting; what is left of it is a clock in small units. Trap 7, small
pools: test_small_pools.py. Trap 9, curves: a newest reading that departs, test_departures.py.
"""

from dataclasses import replace

import numpy as np
import pytest
from pool_fits import at_parameters, states_at, straight_fit, straight_model
from published import grouped

from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.pool_fit import fit_pool
from inspections.numeric.segment_trends import Segments, assess_segments
from inspections.numeric.straight_fit import TooFewReadings, fit_straight


def ones(count):
    return np.ones(count)


def simulate(seed, segments, readings, sd_rate=0.06, sigma=0.05):
    """(FitReadings, true levels, true rates): 1.2 dB + 0.15 dB a year, standard deviations 0.3 and 0.06, sigma 0.05 dB,
    over four years."""
    rng = np.random.default_rng(seed)
    n = readings(rng, segments) if callable(readings) else np.full(segments, readings)
    segment = np.repeat(np.arange(segments), n)
    x = rng.uniform(0, 4, len(segment))
    level, rate = 1.2 + 0.3 * rng.standard_normal(segments), 0.15 + sd_rate * rng.standard_normal(segments)
    y = level[segment] + rate[segment] * x + sigma * rng.standard_normal(len(segment))
    return FitReadings.of(segment, x, y), level, rate


def sleepstudy():
    segment, x, y, _ = grouped("sleepstudy")
    return FitReadings.of(segment, x, y)


def early_lasers():
    segment, hours, percent, _ = grouped("lasers")
    early = hours <= 1000
    return FitReadings.of(segment[early], hours[early] / 1000, percent[early])


# 1. and 2. The unit of time: log REML changes by -ln c for x -> c x, the estimates transform exactly.
def test_clock_that_runs_in_seconds_changes_the_unit_alone():
    days = straight_fit(sleepstudy(), ones(18))
    seconds = straight_fit(replace(sleepstudy(), x=86_400 * sleepstudy().x), ones(18))
    assert (seconds.minus_two_log - days.minus_two_log) / -2 == pytest.approx(-np.log(86_400), abs=1e-6)
    assert 86_400 * seconds.rate_db[0] == pytest.approx(days.rate_db[0], rel=1e-9)
    assert 86_400 * seconds.deviations[1] == pytest.approx(days.deviations[1], rel=1e-7)
    assert seconds.sigma2 == pytest.approx(days.sigma2, rel=1e-7)


def test_clock_of_events_gives_the_wander_a_unit_of_its_own():
    # the same pool by a clock of forty units a year: q is forty times less a unit
    readings, *_ = simulate(21, 300, 5)
    wander = 0.1 * np.concatenate([np.cumsum(np.random.default_rng(22).standard_normal(5)) for _ in range(300)])
    order = np.lexsort((readings.x, readings.segment))
    readings = replace(readings.take(order), loss_db=readings.loss_db[order] + wander)
    years, events = (fit_pool(replace(readings, x=c * readings.x), ones(300)).fit for c in (1.0, 40.0))
    assert years.wander_db > 0.05
    assert events.wander_db == pytest.approx(years.wander_db / np.sqrt(40), rel=1e-5)
    assert 40 * events.rate_db[0] == pytest.approx(years.rate_db[0], rel=1e-6)
    assert events.settling_db == pytest.approx(years.settling_db, rel=1e-4)


# 3. The boundary is a legal result, and flagged.
def test_early_lasers_fit_at_a_correlation_of_minus_one():
    # Lasers to 1000 h: log REML 21.867546; a library stopped at 20.764977 and called that converged.
    model = straight_model(early_lasers(), ones(15))
    fit = model.fit
    assert fit.minus_two_log / -2 == pytest.approx(21.867546, abs=1e-6)
    assert fit.deviations[2] == pytest.approx(-1, abs=1e-6)
    assert fit.at_boundary
    trends = assess_segments(model, early_lasers(), Segments.of(ones(15), 4.0, limit_db=10))
    assert (trends.states.c00 >= 0).all()
    assert (trends.states.c11 >= 0).all()
    assert np.isfinite(trends.early).all()


def test_rates_without_spread_are_found_as_such():
    readings, *_ = simulate(31, 200, 5, sd_rate=0.0)
    assert straight_fit(readings, ones(200)).deviations[1] < 0.015


def test_a_fit_inside_is_not_flagged():
    readings, *_ = simulate(32, 200, 5)
    assert not straight_fit(readings, ones(200)).at_boundary


@pytest.mark.parametrize("free", [False, True], ids=["lines alone", "with wander and settling"])
def test_boundary_is_no_worse_than_many_random_starts(free):
    optimum = fit_pool(early_lasers(), ones(15), settling=free, wander=free)
    best = optimum.deviance(optimum.fit.theta)[0]
    thetas = np.random.default_rng(2).normal(0, 5, (300, 5)) * [1, 1, 1, free, 0]
    assert all(optimum.deviance(theta)[0] >= best - 1e-8 for theta in thetas)


# 4. A library as yardstick: on a part of sleepstudy (which, is not on record) it stopped 0.056 short of the best.
def test_standard_errors_are_those_of_generalised_least_squares():
    # unbalanced sleepstudy: slope SE 2.877 by GLS, where the library's own is 2.957
    readings = sleepstudy()
    fit = straight_fit(readings.take(readings.x <= readings.segment % 10), ones(18))
    assert fit.standard_errors[1] == pytest.approx(2.877, abs=5e-4)


# 5. One and two readings need no special case; one reading each does not determine sigma.
def test_single_readings_shrink_to_the_pool():
    readings, *_ = simulate(51, 300, lambda rng, n: rng.integers(1, 6, n))
    model = straight_model(readings, ones(300))
    lines = states_at(model, readings, ones(300), 0.0)
    single = np.bincount(readings.segment) == 1
    many = np.bincount(readings.segment) == 5
    away = np.abs(lines.rate - model.fit.rate_db[0])
    assert away[single].mean() < 0.5 * away[many].mean()
    assert (lines.c11[single] < model.fit.deviations[1] ** 2 * 1.01).all()


def test_pairs_determine_the_three_variances():
    # trial, true .30 / .08 / .05: .294 / .080 / .052
    readings, *_ = simulate(52, 2000, 2, sd_rate=0.08)
    fit = straight_fit(readings, ones(2000))
    assert (*fit.deviations[:2], fit.residual_sd) == pytest.approx((0.30, 0.08, 0.05), rel=0.1)


def test_single_readings_alone_need_sigma_from_the_instrument():
    readings, *_ = simulate(53, 3000, 1)
    fit = straight_fit(readings, ones(3000), sigma=0.05)
    assert fit.sigma_from_instrument
    assert fit.residual_sd == 0.05
    assert fit.deviations[0] == pytest.approx(0.30, rel=0.1)


# 6. Repeats on one day: real rows for sigma, but no spread in x for the segment's own line.
def test_repeats_on_one_day_have_no_slope_of_their_own():
    with pytest.raises(TooFewReadings):
        fit_straight([2.0, 2.0, 2.0], [1.0, 1.1, 0.9])
    readings, *_ = simulate(61, 50, 4)
    segment, x, y = readings.segment, readings.x, readings.loss_db
    readings = FitReadings.of(np.append(segment, [50] * 3), np.append(x, [2.7] * 3), np.append(y, [1.6, 1.7, 1.65]))
    model = straight_model(readings, ones(51))
    states = assess_segments(model, readings, Segments.of(ones(51), 4.0)).states
    assert states.level[50] == pytest.approx(1.65, abs=0.05)
    assert states.c11[50] > 0.5 * model.fit.deviations[1] ** 2


# 8. Removed segments stay in: they are removed because their loss is high.
def test_leaving_out_removed_segments_biases_the_rate_down():
    readings, level, rate = simulate(81, 4000, 5)
    kept = (level + 4 * rate <= 2.0)[readings.segment]
    whole, left = (straight_fit(some, ones(4000)) for some in (readings, readings.take(kept)))
    assert whole.rate_db[0] == pytest.approx(0.15, abs=0.004)
    assert left.rate_db[0] < 0.14


# 10. What pooling brings: trial, five readings, sigma .05, sd of rates .06: rate RMSE .0277 -> .0226, intervals
# narrower.
def test_pooling_beats_lines_of_their_own():
    readings, _, rate = simulate(101, 3000, 5)
    x, y = readings.x, readings.loss_db
    own = np.array([fit_straight(x[i : i + 5], y[i : i + 5]).slope for i in range(0, 15_000, 5)])
    pooled = states_at(straight_model(readings, ones(3000)), readings, ones(3000), 0.0).rate
    rmse_own, rmse_pooled = (np.sqrt(np.mean((found - rate) ** 2)) for found in (own, pooled))
    assert rmse_pooled < 0.9 * rmse_own


# Found on the way: L - L W L in place of L M^-1 L' turned variances negative. What is computed now cancels too, but
# keeps its digits to levels that spread by 500 times sigma (25 dB at 0.05); beyond 1,000 times it tells nothing.
@pytest.mark.parametrize("root", [(80.0, 0.0, 80.0), (500.0, -400.0, 0.0), (500.0, 400.0, 50.0)])
def test_variances_stay_positive_at_large_ratios(root):
    readings, *_ = simulate(111, 60, lambda rng, n: rng.integers(0, 6, n))
    optimum = fit_pool(readings, ones(60), settling=False, wander=False, sigma=0.05)
    fit = replace(optimum.fit, theta=np.array([*root, 0.0, 0.0]))
    solution = optimum.deviance.at(fit.theta).solution
    model = at_parameters(replace(optimum, fit=fit, solution=solution), len(readings.x))
    states = assess_segments(model, readings, Segments.of(ones(60), 4.0)).states
    assert (states.c00 > 0).all()
    assert (states.c11 > 0).all()
    assert (states.c00 * states.c11 >= states.c01**2 * (1 - 1e-6)).all()
