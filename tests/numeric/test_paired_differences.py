"""What cleaning takes away, held to scipy's paired comparison."""

from math import isnan

import numpy as np
import pytest
from scipy import stats

from inspections.numeric.paired_differences import paired_difference


def test_mean_and_standard_error_are_those_of_a_paired_comparison():
    rng = np.random.default_rng(7)
    before, after = rng.normal(1.7, 0.4, (2, 34))
    found = paired_difference(before, after)
    compared = stats.ttest_rel(before, after)
    assert found.mean_db / found.error_db == pytest.approx(compared.statistic)
    # half the 95 % interval over the quantile of t with 33 degrees of freedom
    low, high = compared.confidence_interval(0.95)
    assert found.error_db == pytest.approx((high - low) / 2 / stats.t.ppf(0.975, 33))


def test_what_all_cables_lose_alike_has_no_error():
    found = paired_difference([1.2, 1.7, 2.9], [1.1, 1.6, 2.8])
    assert (found.mean_db, found.error_db) == (pytest.approx(0.1), pytest.approx(0, abs=1e-9))


@pytest.mark.parametrize(("pairs", "enough"), [(19, False), (20, True)])
def test_a_mean_is_shown_from_twenty_pairs_on(pairs, enough):
    assert paired_difference(np.ones(pairs), np.zeros(pairs)).is_enough is enough


def test_pairs_without_a_number_are_left_out():
    found = paired_difference([1.0, np.nan, 2.0], [0.9, 1.0, 1.8])
    assert (found.pairs, found.mean_db) == (2, pytest.approx(0.15))
    assert isnan(paired_difference([], []).mean_db)
