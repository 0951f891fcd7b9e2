"""Where each segment's own loss stands, before, at and after its last reading, against one dense matrix.

Tolerances: at the same parameters both compute the same numbers. Matrices of 60 readings lose six or seven of sixteen
digits; the covariances between bench days are kept in seven (single precision).
"""

from dataclasses import replace

import numpy as np
import pytest
from dense_trend import DenseTrend, Parameters, joint_chance
from drawn_pools import draw_pool, small_pools
from hypothesis import assume, given, settings
from pool_fits import plugged_in, states_at
from scipy.stats import norm
from sizes import examples

from inspections.numeric.fit_readings import ALONE
from inspections.numeric.mixed_equations import NoFit
from inspections.numeric.reading_blocks import lay_out
from inspections.numeric.segment_trends import Segments, assess_segments, path_of
from inspections.numeric.wear_states import PieceAnswers
from inspections.numeric.words import Clock

CLOSE = {"rel": 1e-6, "abs": 1e-8}


def dense_of(pool, fit, **other):
    parameters = Parameters.of_fit(fit, settling=fit.settling)
    terms = 4 if fit.with_length else 2
    return DenseTrend(*pool.dense_parts(), parameters, pool.readings.day, fixed_terms=terms, **other)


def fitted(pool, **fit):
    """(PoolModel at the optimum, DenseTrend there)."""
    model = plugged_in(*pool, with_length=True, **fit)
    return model, dense_of(pool, model.fit)


def assert_states_agree(states, dense, times, rows=None):
    for i in range(len(times)) if rows is None else rows:
        mean, covariance = dense.ask(dense.loss(i, times[i]), dense.rate(i))
        assert (states.level[i], states.rate[i]) == pytest.approx(mean, **CLOSE)
        ours = states.c00[i], states.c01[i], states.c11[i]
        assert ours == pytest.approx((covariance[0, 0], covariance[0, 1], covariance[1, 1]), **CLOSE)


@settings(max_examples=examples(6))
@given(small_pools(least_segments=12))
def test_any_small_pool_is_answered_as_by_the_dense_matrix(pool):
    readings, length_m = pool
    assume(len(readings.x) > 12 and len(np.unique(length_m)) > 1)
    try:
        model, dense = fitted(pool)
    except NoFit:
        assume(False)
    assume(np.abs(model.fit.theta).max() < 50)
    assert model.fit.minus_two_log == pytest.approx(dense.minus_two_log(), rel=1e-9, abs=1e-7)
    asked = Segments.of(length_m, 4.0)
    trends, rows = assess_segments(model, readings, asked), np.arange(len(length_m))
    last = np.array([dense.last_x(i) for i in rows])
    assert trends.x_last == pytest.approx(last)
    assert_states_agree(trends.states, dense, last)
    assert_states_agree(states_at(model, readings, length_m, last / 2), dense, last / 2)
    assert_states_agree(states_at(model, readings, length_m, last + 2), dense, last + 2)


@pytest.fixture(scope="module", params=[(21, 6, 10), (22, 14, 18)], ids=["read rarely", "read often"])
def wandering(request):
    """A pool of 40 segments in which wander, bench days and settling are all found; and its fit."""
    seed, most_readings, days = request.param
    pool = draw_pool(seed, 40, most_readings, days)
    model, dense = fitted(pool)
    assert min(model.fit.wander_db, model.fit.bench_day_sd_db) > 0.03
    return pool, model, dense


def test_path_is_smoothed_before_the_last_reading_and_forecast_after_it(wandering):
    pool, model, dense = wandering
    times = np.array([0.0, 0.4, 1.3, 2.2, 6.0, 20.0])
    for i in range(0, 40, 7):
        mine = pool.readings.take(pool.readings.segment == i)
        alone = replace(mine, segment=np.zeros(len(mine.x), int))
        mean, sd = path_of(model, alone, pool.length_m[i], times)
        answer = dense.ask(*(dense.loss(i, t) for t in times))
        assert mean == pytest.approx(answer.mean, **CLOSE)
        assert sd == pytest.approx(answer.sd, **CLOSE)


def test_shifts_of_bench_days_and_the_settling(wandering):
    pool, model, dense = wandering
    shifts = dense.days(model.days.key)
    assert model.days.shift_db == pytest.approx(shifts.mean, **CLOSE)
    assert model.days.sd_db == pytest.approx(shifts.sd, **CLOSE)
    counts = [(pool.readings.day == key).sum() for key in model.days.key]
    assert model.days.readings.tolist() == counts
    settling = dense.settling()
    assert (model.fit.settling_db, model.fit.settling_sd_db) == pytest.approx(
        (settling.mean[0], settling.sd[0]), **CLOSE
    )


def test_departures_are_residuals_of_each_reading_left_out(wandering):
    pool, model, dense = wandering
    ours = np.full(len(pool.readings.x), np.nan)
    for block in lay_out(pool.readings, pool.length_m, model.points.keys, model.points.scale):
        if block.readings_each:
            residual, variance = PieceAnswers.of(block, model.points).departures()
            ours[block.reading] = residual / np.sqrt(variance)
    assert ours == pytest.approx(dense.departures, **CLOSE)
    trends = assess_segments(model, pool.readings, Segments.of(pool.length_m, 5.0))
    newest = {i: dense.departures[np.flatnonzero(pool.readings.segment == i)[-1]] for i in set(pool.readings.segment)}
    assert trends.departure == pytest.approx([newest.get(i, np.nan) for i in range(40)], nan_ok=True, **CLOSE)


def test_dense_departures_are_what_leaving_one_out_gives(wandering):
    # of the yardstick itself: predict a reading from all others
    pool, model, dense = wandering
    for j in (3, 40):
        others = pool._replace(readings=pool.readings.take(np.arange(len(pool.readings.x)) != j))
        without, one = dense_of(others, model.fit), pool.readings.take([j])
        target, key = without.loss(one.segment[0], one.x[0]), one.day[0]
        p = without.parameters
        shared = p.tau2 * (without.own_day == key) if key != ALONE else np.zeros(len(others.readings.x))
        mean, covariance = without.ask(target._replace(with_readings=target.with_readings + shared))
        sd = np.sqrt(covariance[0, 0] + p.tau2 + p.sigma2)
        assert (one.loss_db[0] - mean[0]) / sd == pytest.approx(dense.departures[j], rel=1e-8)


@pytest.mark.parametrize("limit_db", [1.2, 2.0, 3.0])
def test_chances_and_dates_are_those_of_two_normals(wandering, limit_db):
    pool, model, dense = wandering
    trends = assess_segments(model, pool.readings, Segments.of(pool.length_m, 5.0, limit_db=limit_db))
    for i in range(0, 40, 3):
        # scipy integrates two normals to 1e-5
        assert trends.chance_over[i] == pytest.approx(dense.chance_over(i, 5.0, limit_db), abs=1e-4, nan_ok=True)
        early, expected = (dense.time_of(chance, i, limit_db) for chance in (0.05, 0.5))
        for ours, date in ((trends.early[i], early), (trends.expected[i], expected)):
            if date > dense.last_x(i):
                # a day: the closed form is corrected three times only for what still settles
                assert ours == pytest.approx(date, abs=1 / 365.25)
            else:
                assert ours <= date


def test_a_date_in_the_past_is_when_the_smoothed_path_had_the_chance(wandering):
    pool, model, dense = wandering
    limit_db = float(np.median(dense.y))
    trends = assess_segments(model, pool.readings, Segments.of(pool.length_m, 5.0, limit_db=limit_db))
    past = np.flatnonzero((trends.early > 0) & (trends.early < trends.x_last))
    assert past.size > 3
    for i in past:
        # halved down to a few hours
        assert dense.chance_over(i, trends.early[i], limit_db) == pytest.approx(0.05, abs=0.002)


# --- the clock may count events: wander by events, settling by years


@pytest.fixture(scope="module")
def by_events():
    """A pool of 40 segments that go out 10 to 40 times a year, its fit by events, and the dense matrix there."""
    pool = draw_pool(23, 40, 6, 10)
    per_year = np.random.default_rng(23).uniform(10, 40, 40)
    readings = replace(pool.readings, x=np.round(pool.readings.x * per_year[pool.readings.segment]))
    model = replace(plugged_in(readings, pool.length_m, with_length=True), clock=Clock.EVENTS)
    counted = pool._replace(readings=readings)
    return counted, model, dense_of(counted, model.fit, years=readings.years)


def test_fit_by_events_is_that_of_the_dense_matrix(by_events):
    _, model, dense = by_events
    assert model.fit.scale > 10
    assert model.fit.minus_two_log == pytest.approx(dense.minus_two_log(), abs=1e-6)
    assert model.fit.coefficients == pytest.approx(dense.beta, rel=1e-6, abs=1e-9)
    settling = dense.settling()
    assert (model.fit.settling_db, model.fit.settling_sd_db) == pytest.approx(
        (settling.mean[0], settling.sd[0]), **CLOSE
    )


def test_states_by_events_are_those_of_the_dense_matrix(by_events):
    pool, model, dense = by_events
    trends = assess_segments(model, pool.readings, Segments.of(pool.length_m, 100.0, horizon=1e9))
    for i in range(40):
        mine = pool.readings.segment == i
        last, years = (float(part[mine].max(initial=0.0)) for part in (pool.readings.x, pool.readings.years))
        mean, covariance = dense.ask(dense.loss(i, last, years), dense.rate(i))
        assert trends.x_last[i] == pytest.approx(last)
        assert (trends.states.level[i], trends.states.rate[i]) == pytest.approx(mean, **CLOSE)
        ours = trends.states.c00[i], trends.states.c01[i], trends.states.c11[i]
        assert ours == pytest.approx((covariance[0, 0], covariance[0, 1], covariance[1, 1]), rel=1e-6, abs=1e-10)
        assert trends.states.q[i] == pytest.approx(dense.parameters.q, abs=1e-12)


def test_chance_by_events_counts_all_that_still_settles_at_once(by_events):
    pool, model, dense = by_events
    now = 150.0
    trends = assess_segments(model, pool.readings, Segments.of(pool.length_m, now, limit_db=2.0, horizon=1e9))
    mu = dense.settling().mean[0]
    for i in range(0, 40, 3):
        mine = pool.readings.segment == i
        last, years = (float(part[mine].max(initial=0.0)) for part in (pool.readings.x, pool.readings.years))
        h = now - last
        if h <= 0:
            continue
        (x, b), c = dense.ask(dense.loss(i, last, years), dense.rate(i))
        ahead = np.array([[1, h], [0, 1]])
        c = ahead @ c @ ahead.T + np.diag([dense.parameters.q * h, 0])
        short = x + b * h + mu * np.exp(-years / 0.7) - (2.0 - max(mu, 0) / 4)
        over, falls = norm.sf(-short / np.sqrt(c[0, 0])), norm.cdf(-b / np.sqrt(c[1, 1]))
        expected = over if falls < 0.001 else joint_chance(short, b, c) / (1 - falls)
        assert trends.chance_over[i] == pytest.approx(expected, abs=1e-4)
