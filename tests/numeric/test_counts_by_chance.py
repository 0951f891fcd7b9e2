"""How many happen: against a published-form example worked out by hand, the binomial, and all outcomes one by one."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from inspections.numeric.counts_by_chance import count_chances, count_interval


def test_three_unequal_chances():
    """Checks on reliability, E8: derived from the formula; mean 0.6, variance 0.46."""
    counts = count_chances([0.1, 0.2, 0.3])
    assert counts == pytest.approx([0.504, 0.398, 0.092, 0.006], abs=1e-9)
    mean = counts @ range(4)
    assert (mean, counts @ (np.arange(4) - mean) ** 2) == (pytest.approx(0.6), pytest.approx(0.46))


@pytest.mark.parametrize(("chance", "number"), [(0.05, 40), (0.5, 7), (0.004, 3000)])
def test_equal_chances_are_binomial(chance, number):
    counts = count_chances([chance] * number)
    assert counts == pytest.approx(binom.pmf(np.arange(len(counts)), number, chance), abs=1e-12)
    assert counts.sum() == pytest.approx(1, abs=1e-12)


@given(st.lists(st.floats(0, 1), max_size=8))
def test_any_chances_are_what_all_outcomes_add_up_to(chances):
    expected = np.zeros(len(chances) + 1)
    for outcome in product([0, 1], repeat=len(chances)):
        expected[sum(outcome)] += np.prod(
            [p if happens else 1 - p for p, happens in zip(chances, outcome, strict=True)]
        )
    assert count_chances(chances) == pytest.approx(expected, abs=1e-12)


@given(st.lists(st.floats(0, 1), max_size=30))
def test_no_more_than_a_twentieth_lies_on_either_side(chances):
    counts, (least, most) = count_chances(chances), count_interval(chances)
    assert counts[:least].sum() <= 0.05 + 1e-9
    assert counts[most + 1 :].sum() <= 0.05 + 1e-9
    assert least <= most <= len(chances)


def test_nothing_at_stake_is_none():
    assert count_interval([]) == (0, 0)
    assert count_interval([0.0] * 9) == (0, 0)
    assert count_interval([1.0] * 9) == (9, 9)
