"""The shift of a bench day from readings on it: of days newer than the fit, and of those with a single reading."""

from dataclasses import replace

import numpy as np
import pytest

from inspections.numeric.bench_day_shifts import day_shift, lone_shifts, new_day_shifts, predict, tau2, without_own
from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.pool_model import fit_pool_model

SEGMENTS, DAYS, TAU_DB = 200, 120, 0.1
NEW_DAY, LONE_DAY = 1000, 1001


@pytest.fixture(scope="module")
def pool():
    """(model, readings, lengths) of cables read on twelve days each, one of them on a day of its own besides.

    Of many days: where there are few, what they have in common cannot be told from the cables' mean line.
    """
    rng = np.random.default_rng(3)
    length_m = np.tile([0.6, 1.1, 1.6, 2.1], SEGMENTS // 4)
    segment = np.repeat(np.arange(SEGMENTS), 12)
    day = 10 * np.tile(np.arange(12), SEGMENTS) + segment % 10
    segment, day = np.append(segment, 7), np.append(day, LONE_DAY)
    x = np.where(day == LONE_DAY, 4.2, 0.03 * (day + 1))
    shift = np.append(TAU_DB * rng.standard_normal(DAYS), 0.25)[np.minimum(day, DAYS)]
    loss_db = 0.3 + (0.5 + 0.2 * x) * length_m[segment] + shift + 0.05 * rng.standard_normal(len(x))
    readings = FitReadings.of(segment, x, loss_db, day=day)
    return fit_pool_model(readings, length_m).model, readings, length_m


def test_a_shift_is_the_mean_of_residuals_drawn_towards_none_by_the_spread_of_bench_days(pool):
    model, *_ = pool
    day, residual, variance = np.array([5, 9, 5]), np.array([0.2, -0.1, 0.3]), np.array([0.01, 0.02, 0.04])
    keys, readings, shift, sd = day_shift(model, day, residual, variance)
    precision = 1 / tau2(model) + 1 / 0.01 + 1 / 0.04
    assert (keys.tolist(), readings.tolist()) == ([5, 9], [2, 1])
    assert shift[0] == pytest.approx((0.2 / 0.01 + 0.3 / 0.04) / precision)
    assert sd[0] == pytest.approx(precision**-0.5)


def test_without_its_own_reading_the_day_says_what_the_others_say(pool):
    model, *_ = pool
    rng = np.random.default_rng(1)
    day, segment = np.repeat([5, 9], 4), np.arange(8)
    residual, variance = rng.normal(0.1, 0.1, 8), rng.uniform(0.01, 0.03, 8)
    _, _, shift, sd = day_shift(model, day, residual, variance)
    of_reading = np.repeat([0, 1], 4)
    ours = np.stack(new_day_shifts(model, day, residual, variance, segment))
    taken_out = np.stack(without_own(shift[of_reading], sd[of_reading], residual, variance))
    assert taken_out == pytest.approx(ours)
    _, _, *others = day_shift(model, day[1:4], residual[1:4], variance[1:4])
    assert ours[:, 0] == pytest.approx(np.ravel(others))


def test_alone_on_its_day_a_reading_is_told_nothing_by_others(pool):
    model, *_ = pool
    shift, sd = new_day_shifts(model, np.array([5]), np.array([0.3]), np.array([0.01]), np.array([0]))
    assert (shift[0], sd[0]) == pytest.approx((0, tau2(model) ** 0.5), abs=1e-9)


def test_a_single_reading_in_the_fit_tells_of_its_day_what_it_would_if_it_came_after_the_fit(pool):
    model, readings, length_m = pool
    keys, shift, sd = lone_shifts(model, readings, length_m)
    lone = readings.day == LONE_DAY
    mean, variance = predict(model, readings.take(~lone), readings.take(lone), length_m)
    _, _, wanted, wanted_sd = day_shift(model, keys, readings.loss_db[lone] - mean, variance)
    assert keys.tolist() == [LONE_DAY]
    # the fit that predicts holds the reading already, which has drawn the mean line a little towards itself
    assert shift[0] == pytest.approx(wanted[0], abs=0.3 * wanted_sd[0])
    assert sd[0] == pytest.approx(wanted_sd[0], rel=0.05)
    assert 0.1 < shift[0] < 0.25


def test_what_departed_and_was_left_out_tells_of_no_day(pool):
    model, readings, length_m = pool
    left_out = readings.day == LONE_DAY
    assert [len(part) for part in lone_shifts(model, replace(readings, left_out=left_out), length_m)] == [0, 0, 0]


def test_a_new_day_reads_as_high_as_it_was_made_to(pool):
    model, readings, length_m = pool
    asked = np.arange(30)
    x, rng = np.full(30, 4.5), np.random.default_rng(2)
    loss_db = 0.3 + (0.5 + 0.2 * x) * length_m[asked] + 0.2 + 0.05 * rng.standard_normal(30)
    after = FitReadings.of(asked, x, loss_db, day=np.full(30, NEW_DAY))
    mean, variance = predict(model, readings, after, length_m)
    _, _, shift, sd = day_shift(model, after.day, loss_db - mean, variance)
    assert shift[0] == pytest.approx(0.2, abs=3 * sd[0]) and sd[0] < 0.03
