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


def many_small(mean):
    """Chances of so many things that how many happen is Poisson but for one in four thousand."""
    return np.full(4_000, mean / 4_000)


def test_many_small_chances_are_a_rate():
    """Checks on reliability, E1: the printed table of Poisson 1.25; E5: of mean 1, P(D ≤ s − 1) (from memory)."""
    counts = count_chances(many_small(1.25))
    assert counts[:5] == pytest.approx([0.286505, 0.358131, 0.223832, 0.093263, 0.029145], abs=2e-4)
    assert np.cumsum(counts)[:5] == pytest.approx([0.286505, 0.644636, 0.868468, 0.961731, 0.990876], abs=2e-4)
    assert np.cumsum(count_chances(many_small(1)))[:4] == pytest.approx(
        [0.367879, 0.735759, 0.919699, 0.981012], abs=2e-4
    )


@pytest.mark.parametrize(
    ("mean", "enough"),
    [
        *[(0.5, [1, 2, 2, 3]), (1, [2, 3, 3, 4]), (2, [4, 5, 5, 6]), (3, [5, 6, 7, 8]), (4, [7, 8, 9, 9])],
        *[(5, [8, 9, 10, 11]), (9, [13, 14, 16, 17]), (10, [14, 15, 17, 18])],
    ],
)
def test_so_many_are_enough_nearly_always(mean, enough):
    """Checks on reliability, E6, derived: smallest s with P(D ≤ s) of 90, 95, 98 and 99 %."""
    assert [count_interval(many_small(mean), within)[1] for within in (0.8, 0.9, 0.96, 0.98)] == enough


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
