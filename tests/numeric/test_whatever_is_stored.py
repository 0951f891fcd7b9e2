"""Whatever lengths, times and losses are on record: the fit answers in finite numbers, or says that it cannot."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from pool_fits import fit_and_assess
from sizes import examples

from inspections.numeric.decibels import reference_loss_db
from inspections.numeric.fit_readings import ALONE, FitReadings
from inspections.numeric.segment_trends import Segments
from inspections.numeric.suspects import farthest_above
from inspections.numeric.verdicts import verdict
from inspections.numeric.wear_clock import compare_clocks
from inspections.numeric.words import NoDateReason, NoModelReason

# as columns are read from the database: to the ninth decimal, and cut off at nine thousand million
LENGTH_M = some.sampled_from([0.0, 1e-9, 0.001, 1250.0, 1e6, 9e9]) | some.floats(0.3, 4)
LOSS_DB = some.sampled_from([0.0, 1e-9, 99.0, 1e4, 9e9]) | some.floats(0.2, 3)
TIME = some.sampled_from([0.0, 0.003, 2025.0, 1e9]) | some.floats(0, 6)
BENCH_DAY = some.sampled_from([ALONE, ALONE, 19_000 << 32, 19_000 << 32 | 7, 20_500 << 32 | 1])


@some.composite
def pools(draw):
    """(readings by years, lengths, readings by events) of up to nine segments, each read up to four times."""
    lengths_m = draw(some.lists(LENGTH_M, min_size=1, max_size=9))
    readings = [
        (segment, draw(TIME), draw(LOSS_DB), draw(TIME), draw(BENCH_DAY))
        for segment in range(len(lengths_m))
        for _ in range(draw(some.integers(0, 4)))
    ]
    segment, x, loss_db, events, day = (np.array(c) for c in zip(*readings, strict=True)) if readings else [[]] * 5
    by_years = FitReadings.of(segment, x, loss_db, day=day)
    return by_years, np.array(lengths_m), FitReadings.of(segment, events, loss_db, day=day, years=x)


@settings(max_examples=examples(8))
@given(pools())
def test_a_fit_is_finite_or_says_that_it_cannot_be_calculated(pool):
    readings, lengths_m, by_events = pool
    model, trends = fit_and_assess(readings, Segments.of(lengths_m, 3.0))
    assert (model.fit is None) == (model.no_model_reason is not None)
    json.dumps(model.as_json(), allow_nan=False)
    states = zip(*trends.states, strict=True)
    for state, reason, early in zip(states, trends.no_date_reason, trends.early, strict=True):
        assert np.isfinite(state).all() or (np.isnan(state[1]) and reason is not None)
        assert reason is not None or np.isfinite(early)
    compare_clocks(readings, by_events, lengths_m, with_length=True)


def test_each_answer_names_the_reason_where_the_pool_cannot_be_fitted():
    """Lengths that differ in their tenth digit only: floating point cannot tell what length does."""
    segment, x = np.repeat(np.arange(10), 3), np.tile([0.0, 1.0, 2.0], 10)
    readings = FitReadings.of(segment, x, 0.3 + 0.1 * x + 0.01 * np.cos(np.arange(30)))
    lengths_m = 9e9 + np.arange(11)
    model, trends = fit_and_assess(readings, Segments.of(lengths_m, 3.0))
    assert model.no_model_reason is NoModelReason.NO_FIT
    assert trends.no_date_reason[-1] is NoDateReason.NO_FIT
    assert np.isfinite(trends.states.rate[:-1]).all(), "each by its own three readings"


@pytest.mark.parametrize(
    ("values", "found"),
    [
        ([0.5, 1.0, 1250.0], (2, 1.0, 1250.0)),
        ([0.0, 0.0, 2.0], (2, 0.0, np.inf)),
        ([0.0, 0.0], (0, 0.0, 1.0)),
    ],
)
def test_the_value_that_lies_farthest_above_the_others_is_found(values, found):
    assert farthest_above(values) == found


def test_a_reading_that_gives_no_number_is_not_compared():
    found = reference_loss_db([1.0, 1.0, 1.7e308], [0.0, 900.0, 900.0], [20.0, -480.0, -470.0], 900.0)
    assert np.isnan(found).all()
    assert verdict(np.array([1.0, 5.0, 3.0]), 0.0, 3.0).tolist() == ["within", "over", ""]
