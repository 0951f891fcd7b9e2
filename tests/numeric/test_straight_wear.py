"""Straight wear without shifts has the dates it had before bench days, wander and settling came into the model.

tests/data/straight_wear/README.md tells how the numbers of the former fit were made. Its model is the boundary of the
present one: with wander, settling and bench days at nothing every answer is the same; with all three free, nearly so.
"""

import json
from pathlib import Path

import numpy as np
import pytest
from pool_fits import fit_and_assess, straight_model

from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.pool_readings import lengths_can_be_told_apart
from inspections.numeric.segment_trends import Segments, assess_segments

POOLS = json.loads((Path(__file__).parents[1] / "data" / "straight_wear" / "straight_wear.json").read_text())
DAY = 1 / 365.25


def pool_of(name):
    """(FitReadings, Segments, what the former fit said) of a stored pool."""
    stored = POOLS[name]
    readings = FitReadings.of(stored["segment"], stored["x"], stored["loss_db"])
    asked = {key: stored[key] for key in ("limit_db", "accepted_risk")}
    return readings, Segments.of(stored["length_m"], stored["now"], **asked), stored


def numbers(stored, name):
    return np.array(stored[name], float)


@pytest.fixture(scope="module", params=POOLS)
def case(request):
    readings, segments, former = pool_of(request.param)
    with_length = lengths_can_be_told_apart(readings, segments.length_m)
    model = straight_model(readings, segments.length_m, with_length=with_length)
    return model.fit, assess_segments(model, readings, segments), former


def test_fit_is_the_former_one(case):
    fit, _, former = case
    # both stop far closer to the optimum than a thousandth of a standard error
    assert fit.minus_two_log == pytest.approx(former["minus_two_log_reml"], abs=1e-6)
    for name in ("intercept_db", "rate_db"):
        assert getattr(fit, name) == pytest.approx(former[name], abs=1e-6)
    assert fit.deviations == pytest.approx(former["deviations"], abs=1e-4)
    assert fit.residual_sd == pytest.approx(former["residual_sd_db"], rel=1e-5)


def test_chances_are_the_former_ones(case):
    _, trends, former = case
    assert trends.falling_chance == pytest.approx(numbers(former, "falling_chance"), abs=1e-5)
    assert trends.chance_over == pytest.approx(numbers(former, "chance_over"), abs=1e-5)


@pytest.mark.parametrize("name", ["early", "expected"])
def test_dates_are_the_former_ones_to_a_day(case, name):
    _, trends, former = case
    expected, ours = numbers(former, name), getattr(trends, name)
    assert np.isfinite(ours).tolist() == np.isfinite(expected).tolist()
    # where the rate may be falling the former chance held the condition from the first fitting, and so does ours
    off = np.abs(ours - expected)[np.isfinite(expected)]
    assert off.max() <= DAY


def test_reasons_are_the_former_ones(case):
    _, trends, former = case
    ours = [None if reason is None else str(reason) for reason in trends.no_date_reason]
    assert ours == former["no_date_reason"]


@pytest.mark.parametrize("seed", [1, 2])
def test_with_everything_free_a_large_pool_of_straight_wear_has_nearly_the_same_dates(seed):
    # trend.md section 3: three days earlier in the median
    rng, segments = np.random.default_rng(seed), 4000
    length_m, x = rng.choice([0.6, 1.1, 2.1, 3.0], segments), np.sort(rng.uniform(0, 4, (segments, 5)), axis=1)
    level = 0.2 + 0.5 * length_m + 0.05 * rng.standard_normal(segments)
    rate = np.maximum(0.1 + 0.1 * length_m + 0.05 * rng.standard_normal(segments), 0.0)
    y = level[:, None] + rate[:, None] * x + 0.07 * rng.standard_normal(x.shape)
    readings, asked = (
        FitReadings.of(np.repeat(np.arange(segments), 5), x.ravel(), y.ravel()),
        Segments.of(length_m, 4.0),
    )
    _, free = fit_and_assess(readings, asked)
    straight = assess_segments(straight_model(readings, length_m, with_length=True), readings, asked)
    ahead = np.isfinite(straight.early) & (straight.early > 4)
    assert abs(np.median(free.early[ahead] - straight.early[ahead])) < 20 * DAY
