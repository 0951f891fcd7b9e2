"""Repeatability pooled over repeats, held to worked numbers and to scipy."""

import numpy as np
import pytest
from scipy import stats

from inspections.numeric.repeatability import pooled_repeatability


def test_it_agrees_with_the_within_mean_square_of_an_analysis_of_variance():
    """NIST/SEMATECH e-Handbook of Statistical Methods, 7.4.3.3, example of a one-way analysis of variance (from
    memory): within mean square 1.454 with 12 degrees of freedom, F 9.59."""
    levels = [[6.9, 5.4, 5.8, 4.6, 4.0], [8.3, 6.8, 7.8, 9.2, 6.5], [8.0, 10.5, 8.1, 6.9, 9.3]]
    pooled = pooled_repeatability(np.repeat([0, 1, 2], 5), np.concatenate(levels))
    assert (pooled.readings, pooled.groups, pooled.freedom) == (15, 3, 12)
    assert pooled.sd_db**2 == pytest.approx(1.454, abs=5e-4)
    # the same from the F value of scipy: F = between mean square / within mean square
    assert stats.f_oneway(*levels).statistic == pytest.approx(9.59, abs=5e-3)
    between = 5 * np.var([np.mean(level) for level in levels], ddof=1)
    assert pooled.sd_db**2 == pytest.approx(between / stats.f_oneway(*levels).statistic)


def test_groups_of_unlike_size_count_by_their_degrees_of_freedom():
    # s = 0.1 (1 degree) and s = 0.02 (3 degrees): (0.01 + 3 * 0.0004) / 4
    two = 1.5 + 0.1 * np.array([1, -1]) / np.sqrt(2)
    four = 2.5 + 0.02 * np.array([1, 1, -1, -1]) * np.sqrt(3 / 4)
    pooled = pooled_repeatability([7, 7, 3, 3, 3, 3], np.concatenate([two, four]))
    assert pooled.sd_db == pytest.approx(np.sqrt((0.01 + 3 * 0.0004) / 4))
    assert pooled.freedom == 4


def test_losses_of_the_cables_themselves_have_no_part_in_it():
    rng = np.random.default_rng(4)
    group = np.repeat(np.arange(400), 3)
    read = rng.uniform(0.5, 3, 400)[group] + rng.normal(0, 0.05, len(group))
    # a standard deviation has a relative error of 1/sqrt(2 * 800), 2.5 %
    assert pooled_repeatability(group, read).sd_db == pytest.approx(0.05, rel=0.08)


@pytest.mark.parametrize("group", [[], [1], [1, 2, 3]])
def test_without_a_repeat_it_is_not_known(group):
    assert pooled_repeatability(group, np.ones(len(group))) is None


def test_what_tells_no_loss_is_left_out():
    assert pooled_repeatability([1, 1], [1.0, np.nan]) is None
    assert pooled_repeatability([1, 1, 1], [1.0, np.nan, 1.2]).readings == 2


@pytest.mark.parametrize(("sd_db", "uneven"), [(0.09, False), (0.11, True)])
def test_more_than_a_tenth_of_a_decibel_is_uneven(sd_db, uneven):
    read = 1.5 + sd_db * np.array([1, -1]) / np.sqrt(2)
    assert pooled_repeatability([0, 0], read).is_uneven is uneven
