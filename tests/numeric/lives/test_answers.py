"""What a group of lives tells, against pools of known lives."""

import numpy as np
import pytest
from life_data import NEVER, bearing_cages, drawn_pool

from inspections.numeric.lives.answers import group_life
from inspections.numeric.lives.records import Lives
from inspections.numeric.lives.resampling import MANY, cluster_weights, coarse, drawn_kinds
from inspections.numeric.lives.turnbull import fit_turnbull
from inspections.numeric.lives.weibull import Weibull

AGES = np.linspace(0, 3.5, 15)
POOLS = 20


def test_intervals_hold_the_truth_about_as_often_as_they_say():
    """Of 20 drawn pools whose cables live alike by mat; that 90 % held fewer than 14 of 20 would be chance once in 400
    (binomial). Of 100 pools of 40 mats 92 intervals of the age held the truth, 94 of the band at 2 years, 84 at 3."""
    truth = _mean_life(0.2)
    answers = [group_life(drawn_pool(seed, alike=0.2, mats=20), AGES, (0.05,)) for seed in range(POOLS)]
    ages = [answer.ages_at[0.05] for answer in answers]
    assert sum(age.low <= _age_at(truth, 0.05) <= age.high for age in ages) >= 14
    bands = [answer.curve.at(2.0)[2:] for answer in answers]
    assert sum(low <= np.interp(2.0, *truth) <= high for low, high in bands) >= 14


def _mean_life(alike):
    """(ages, share over) of the mean cable of such pools, by quadrature over mats."""
    ages, points = np.linspace(0.01, 8, 800), np.linspace(-4, 4, 81)
    weights = np.exp(-(points**2) / 2)
    shares = [Weibull(2.5, 4.0 * np.exp(alike * point)).share_over(ages) for point in points]
    return ages, np.average(shares, axis=0, weights=weights)


def _age_at(truth, share):
    return np.interp(share, truth[1], truth[0])


def test_mats_that_differ_widen_what_is_said():
    one = drawn_pool(4, alike=0.5, cables=12)
    as_if_apart = Lives(one.entry, one.low, one.high, np.arange(len(one)))
    by_mat, apart = (group_life(lives, AGES, (0.05,)).ages_at[0.05] for lives in (one, as_if_apart))
    assert by_mat.age == apart.age
    assert by_mat.high - by_mat.low > 1.3 * (apart.high - apart.low)


def test_few_failures_give_a_bound_and_no_curve():
    few = group_life(bearing_cages(), AGES, (0.05,))
    assert (few.failures, few.is_settled, few.weibull) == (6, False, None)
    assert few.bound.age_at(0.05) < 3903


def test_few_mats_give_no_interval():
    found = group_life(drawn_pool(5, mats=3, cables=20), AGES, (0.05,))
    assert found.is_settled
    assert np.isnan([found.ages_at[0.05].low, *found.curve.low]).all()


def test_no_life_tells_nothing():
    found = group_life(Lives.of([], []), AGES, (0.05,))
    assert (found.lives, found.watched_until, found.bound, found.is_settled) == (0, 0, None, False)


def test_the_end_of_what_was_watched_is_named():
    found = group_life(Lives.of([1.0, 2.0], [NEVER, 3.1]), AGES, (0.05,))
    assert found.watched_until == pytest.approx(3.1)


def test_many_lives_are_told_apart_by_cells_and_say_the_same():
    """Ends are moved outwards by less than 1 in 240 of the longest age: shares move by as little, but at the very end,
    where the last that went over takes all that is left."""
    many = drawn_pool(9, mats=60, cables=20)
    exact, rough = fit_turnbull(many), group_life(many, AGES, (0.05,))
    assert len(many) > MANY
    ages = AGES[:-1]
    assert rough.observed.share_over(ages) == pytest.approx(exact.share_over(ages), abs=0.02)
    assert len(coarse(many).take(many.is_over)) == many.failures
    assert (coarse(many).low <= many.low).all()
    assert (coarse(many).high >= many.high).all()


def test_lives_that_are_alike_are_drawn_as_one():
    lives = coarse(drawn_pool(9, mats=60, cables=20))
    kinds, weights = drawn_kinds(lives, draws=3)
    by_life = cluster_weights(lives.cluster, draws=3)
    assert len(kinds) < len(lives)
    assert weights.sum(axis=1) == pytest.approx(by_life.sum(axis=1))
    assert weights @ kinds.low == pytest.approx(by_life @ lives.low)
