"""Forecasts by a fitted life, against publications."""

import numpy as np
import pytest
from life_data import CAGES_RUNNING, bearing_cages, drawn_pool

from inspections.numeric.counts_by_chance import count_chances, count_interval
from inspections.numeric.lives.demand import expected_over, mean_life_up_to
from inspections.numeric.lives.weibull import Weibull, fit_weibull


def test_failures_of_the_next_300_hours():
    """Bearing cages, Meeker & Escobar 1998, chapter 12 (from memory): 5.057; derived 5.0582."""
    ages = np.repeat(list(CAGES_RUNNING), list(CAGES_RUNNING.values()))
    life = fit_weibull(bearing_cages())
    assert expected_over(life, ages, 300) == pytest.approx(5.0582, abs=2e-3)
    # each with its own chance: the variance of their number, and between which numbers nine in ten lie, both derived
    chances = 1 - life.survival(ages + 300) / life.survival(ages)
    counts = count_chances(chances)
    mean = counts @ np.arange(len(counts))
    assert counts @ (np.arange(len(counts)) - mean) ** 2 == pytest.approx(5.0380, abs=2e-3)
    assert count_interval(chances) == (2, 9)


def test_the_long_run_of_a_rule_of_age():
    """400 at 36 months, shape 2.5, scale 60 months: derived by quadrature, 11.9938 a month, 2.9187 of them over."""
    life = Weibull(2.5, 60.0)
    a_month = 400 / mean_life_up_to(life, 36)
    assert mean_life_up_to(life, 36) == pytest.approx(33.350542, abs=1e-6)
    assert (a_month, a_month * life.share_over(36)) == pytest.approx((11.9938, 2.9187), abs=1e-4)


def test_the_long_run_by_a_life_that_was_fitted():
    """The same rule where the life is known from checks of 2,400 cables that were drawn by it. Tolerances: of seven
    pools so drawn each had the share over at 36 months within 6 % of the truth."""
    life = fit_weibull(drawn_pool(5, mats=400, scale=5.0, alike=0.0))
    a_month = 400 / (12 * mean_life_up_to(life, 3))
    assert a_month == pytest.approx(11.9938, rel=0.01)
    assert a_month * life.share_over(3) == pytest.approx(2.9187, rel=0.10)


def test_what_is_surely_over_counts_whole():
    assert expected_over(Weibull(2.0, 1.0), [1e6, 0.0], 1e6) == pytest.approx(2)
