"""What few failures say at least."""

import numpy as np
import pytest
from life_data import NEVER
from scipy.stats import chi2

from inspections.numeric.lives.bounds import few_at_most, lower_bound, scale_at_least
from inspections.numeric.lives.records import Lives


@pytest.mark.parametrize(("shape", "least"), [(3, 4.48353), (2.5, 4.85870), (2, 5.48113), (1, 10.01425)])
def test_ten_cables_without_a_failure_in_three_years(shape, least):
    """The bound of no failures (formula from memory): numbers derived with scipy's chi-squared."""
    assert scale_at_least(10 * 3**shape, 0, shape, 0.95) == pytest.approx(least, abs=1e-5)


def test_it_is_the_quantile_of_chi_squared_with_two_more_degrees_than_twice_the_failures():
    for failures in range(10):
        expected = (2 * 7.5 / chi2.ppf(0.95, 2 * failures + 2)) ** (1 / 2)
        assert scale_at_least(7.5, failures, 2, 0.95) == pytest.approx(expected, rel=1e-10)


def test_the_worst_shape_speaks():
    bound = lower_bound(Lives.of([3.0] * 10, NEVER))
    # within what was watched chance alone is the worst, beyond it wear that comes all at once
    assert bound.survival(1) == pytest.approx(0.05 ** (1 / 30), abs=1e-9)
    assert bound.survival(6) == pytest.approx(0.05 ** (6**3 / 270), abs=1e-9)
    assert bound.survival(bound.age_at(0.05)) == pytest.approx(0.95, abs=1e-9)


def test_it_holds_as_often_as_it_says_whatever_the_wear():
    """Of lives that are known, at most 5 in 100 bounds lie above the truth (and 1 more by chance, of 400)."""
    rng = np.random.default_rng(11)
    for shape in (1.0, 2.5):
        wrong = 0
        for _ in range(400):
            ends = 4 * rng.weibull(shape, 25)
            low, high = np.floor(ends), np.where(ends < 2, np.ceil(ends), NEVER)
            bound = lower_bound(Lives.of(np.minimum(low, 2), high))
            wrong += bound.survival(1.5) > np.exp(-((1.5 / 4) ** shape))
        assert wrong / 400 < 0.06


def test_nothing_seen_within_says_nothing():
    assert lower_bound(Lives.of([0.0, 0.0], [1.0, 2.0])) is None


def seen_at(age, over, within, unknown=0):
    """Lives of which so many are over or within at that age, and of others nobody knows."""
    low = [0.0] * over + [age] * within + [age / 2] * unknown
    high = [age] * over + [np.inf] * (within + unknown)
    return Lives.of(np.array(low), np.array(high))


def test_at_most_so_many_are_over_where_few_or_none_were_seen():
    """Checks on reliability, B11: 29 of 30, two-sided 95 %, of a documentation of Clopper & Pearson's interval."""
    ages = np.array([2.0])
    assert few_at_most(seen_at(2.0, 29, 1), np.array([29 / 30]), ages, 0.975) == pytest.approx(0.99915643, abs=1e-8)
    # none of 59: the success run of 95 % (B1)
    assert few_at_most(seen_at(2.0, 0, 59), np.zeros(1), ages) == pytest.approx(1 - 0.05 ** (1 / 59))
    assert 0.0495 < few_at_most(seen_at(2.0, 0, 59), np.zeros(1), ages)[0] <= 0.05
    assert few_at_most(seen_at(2.0, 0, 59, unknown=40), np.zeros(1), ages) == pytest.approx(1 - 0.05 ** (1 / 59))
    # where nobody knows of any cable, all may be over
    assert few_at_most(seen_at(2.0, 0, 0, unknown=4), np.zeros(1), ages)[0] == pytest.approx(1, abs=1e-6)


def test_who_came_late_says_nothing_of_earlier_ages():
    late = Lives.of(np.full(59, 3.0), np.full(59, np.inf), 2.5)
    assert few_at_most(late, np.zeros(2), np.array([2.0, 3.0])) == pytest.approx([1, 1 - 0.05 ** (1 / 59)], abs=1e-6)
