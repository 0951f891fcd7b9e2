"""Intervals of played rules: what readings leave open, without the chance of finitely many cables."""

import numpy as np
import pytest

from inspections.numeric.rule_trial.answers import Spread, without_chance

DRAWS = 4000


def played_twice(open_sd, chance_sd, draws=DRAWS, seed=5):
    rng = np.random.default_rng(seed)
    return 20 + open_sd * rng.standard_normal((draws, 1)) + chance_sd * rng.standard_normal((draws, 2))


@pytest.mark.parametrize("chance_sd", [0.5, 3.0])
def test_an_interval_is_as_wide_as_what_the_readings_leave_open(chance_sd):
    spread = Spread.of(played_twice(1.0, chance_sd))
    # 90 % of a normal distribution of standard deviation 1
    assert (spread.low, spread.high) == pytest.approx((20 - 1.645, 20 + 1.645), abs=0.35)


def test_what_only_chance_moves_is_hardly_open():
    halves = played_twice(0.0, 1.0)
    assert without_chance(halves).std() < halves.mean(axis=1).std() / 4


def test_without_chance_all_stays_as_it_was_played():
    certain = played_twice(1.0, 0.0, draws=100)
    assert without_chance(certain) == pytest.approx(certain.mean(axis=1), rel=1e-12)
    assert (without_chance(np.full((100, 2), 7.0)) == 7.0).all()
