"""Forecasts by a fitted life, against publications."""

import numpy as np
import pytest
from life_data import CAGES_RUNNING, bearing_cages

from inspections.numeric.counts_by_chance import count_chances, count_interval
from inspections.numeric.lives.demand import expected_over
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


def test_what_is_surely_over_counts_whole():
    assert expected_over(Weibull(2.0, 1.0), [1e6, 0.0], 1e6) == pytest.approx(2)
