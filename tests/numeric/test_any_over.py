"""The chance that any cable of a mat is over, from the chance of each."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.numeric.crossings import any_over


def test_lies_between_the_largest_and_what_independent_ones_give():
    # derived: 1 - 0.9 · 0.8 = 0.28
    assert any_over([0.1, 0.2]) == pytest.approx((0.2, 0.28), rel=1e-12)


def test_cables_without_a_chance_add_nothing():
    assert any_over([None, 0.3, math.nan]) == pytest.approx((0.3, 0.3), rel=1e-12)


def test_of_no_known_chance_nothing_is_said():
    assert all(math.isnan(bound) for bound in any_over([None]))


@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_bounds_stay_in_order_and_within_one(chances):
    least, most = any_over(chances)
    assert 0 <= least <= most + 1e-12 <= 1 + 2e-12
