"""Pools that hold little, or hold it in another order: an answer or a said reason, never an exception or nonsense."""

from dataclasses import replace

import numpy as np
import pytest
from drawn_pools import SmallPool, draw_pool
from pool_fits import fit_and_assess

from inspections.numeric.fit_readings import ALONE, FitReadings
from inspections.numeric.segment_trends import Segments
from inspections.numeric.words import NoDateReason, NoModelReason


def assert_answered(model, trends):
    """A date, or the reason why there is none; numbers that can be."""
    assert (model.fit is None) == (model.no_model_reason is not None)
    dated = np.array([reason is None for reason in trends.no_date_reason])
    assert np.isfinite(trends.early[dated]).all()
    known = ~np.isnan(trends.chance_over)
    assert ((trends.chance_over[known] >= 0) & (trends.chance_over[known] <= 1)).all()
    assert (trends.states.c00[known] >= 0).all()


def read_on(days_of_reading, segments=20, seed=1, day=None):
    """Segments fitted at any time of three years, read at these times, all on one bench day or as `day` says."""
    rng = np.random.default_rng(seed)
    count = len(days_of_reading)
    segment, at = np.repeat(np.arange(segments), count), np.tile(days_of_reading, segments)
    x = at + rng.uniform(0, 3, segments)[segment]
    level = 0.9 + 0.1 * rng.standard_normal(segments)
    loss_db = level[segment] + 0.25 * x + 0.06 * rng.standard_normal(len(segment))
    keys = np.tile(np.arange(count), segments) if day is None else np.full(len(segment), day)
    return FitReadings.of(segment, x, loss_db, day=keys)


def test_pool_of_one_bench_day():
    # what the day is off by looks like the level of all: nobody can tell, and the level stays uncertain by as much
    model, trends = fit_and_assess(read_on([0.5]), Segments.of(np.ones(20), 4.0))
    assert_answered(model, trends)
    assert model.fit.sigma_from_instrument
    assert model.days.key.tolist() == [0]
    assert model.days.sd_db[0] > 0.05
    assert np.abs(model.days.shift_db[0]) < model.days.sd_db[0]


def test_pool_of_one_bench_day_on_which_all_are_equally_old():
    readings = FitReadings.of(np.arange(20), np.full(20, 2.0), np.linspace(1, 2, 20), day=np.full(20, 7))
    model, trends = fit_and_assess(readings, Segments.of(np.ones(20), 4.0))
    assert model.no_model_reason is NoModelReason.ONE_TIME
    assert set(trends.no_date_reason) == {NoDateReason.ONE_TIME}


def test_pool_of_one_reading_each_on_many_days():
    rng = np.random.default_rng(2)
    x, day = rng.uniform(0.5, 5, 60), np.arange(60) % 12
    readings = FitReadings.of(np.arange(60), x, 0.9 + 0.25 * x + 0.1 * rng.standard_normal(60), day=day)
    model, trends = fit_and_assess(readings, Segments.of(np.ones(60), 5.0), instrument_sd_db=0.08)
    assert_answered(model, trends)
    assert model.fit.sigma_from_instrument
    assert model.fit.rate_db[0] == pytest.approx(0.25, abs=0.1)


@pytest.mark.parametrize("readings", [1, 2, 3, 8])
def test_pool_of_one_cable(readings):
    x = np.linspace(0.5, 4, readings)
    one = FitReadings.of(np.zeros(readings), x, 0.8 + 0.3 * x + 0.02 * np.cos(9 * x), day=np.arange(readings))
    model, trends = fit_and_assess(one, Segments.of([1.0], 4.0))
    assert_answered(model, trends)
    assert model.no_model_reason is not None
    # three readings at three times have a line of their own
    assert np.isfinite(trends.early[0]) == (readings > 2)


def test_days_with_one_reading_each_are_as_readings_alone():
    # each carries the whole variance of a bench day; whether the day has a name makes no difference
    pool = draw_pool(41, 40, 5, 8, alone_share=1.0)
    named = replace(pool.readings, day=np.arange(len(pool.readings.x)) + 1000)
    (alone, trends), (model, named_trends) = (
        fit_and_assess(readings, Segments.of(pool.length_m, 5.0)) for readings in (pool.readings, named)
    )
    assert_answered(model, named_trends)
    assert model.fit.minus_two_log == pytest.approx(alone.fit.minus_two_log, abs=1e-9)
    assert named_trends.early.tolist() == trends.early.tolist()
    assert alone.fit.bench_day_sd_db == 0


def shuffled(pool, seed):
    """The same pool with its readings, its segments and the names of its days in another order."""
    rng = np.random.default_rng(seed)
    order, segments = rng.permutation(len(pool.readings.x)), rng.permutation(len(pool.length_m))
    place = np.argsort(segments)
    readings = pool.readings.take(order)
    # days of a drawn pool have keys below a thousand
    keys = rng.permutation(1000)
    day = np.where(readings.day == ALONE, ALONE, keys[readings.day])
    return SmallPool(replace(readings, segment=place[readings.segment], day=day), pool.length_m[segments]), segments


@pytest.mark.parametrize("segments", [30, 200], ids=["integrated", "plugged in"])
def test_order_of_rows_never_matters(segments):
    pool = draw_pool(42, segments, 5, 8)
    other, order = shuffled(pool, 1)
    model, trends = fit_and_assess(pool.readings, Segments.of(pool.length_m, 5.0))
    other_model, other_trends = fit_and_assess(other.readings, Segments.of(other.length_m, 5.0))
    # sums in another order differ in their last digits, and the optimum by as little as its last step
    assert other_model.fit.minus_two_log == pytest.approx(model.fit.minus_two_log, abs=1e-7)
    assert other_trends.chance_over == pytest.approx(trends.chance_over[order], abs=1e-4)
    for name in ("early", "expected"):
        ours, theirs = getattr(other_trends, name), getattr(trends, name)[order]
        assert ours == pytest.approx(theirs, rel=1e-3, abs=2 / 365.25)
    assert sorted(other_model.days.shift_db) == pytest.approx(sorted(model.days.shift_db), abs=1e-5)


def test_a_second_reading_of_the_same_time_is_one_more_reading():
    pool = draw_pool(43, 30, 4, 6)
    again = pool.readings.take(np.r_[np.arange(len(pool.readings.x)), [0, 5, 9]])
    model, trends = fit_and_assess(again, Segments.of(pool.length_m, 5.0))
    assert_answered(model, trends)
    assert model.readings == len(pool.readings.x) + 3
