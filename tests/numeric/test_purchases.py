"""Single cables or sets: never dearer than any other way of buying what is needed, all of them tried."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sizes import examples

from inspections.numeric.purchases import cheapest_purchase


def cost(purchase, single_price, set_price):
    return int(purchase.sets @ np.array(set_price, int) + purchase.singles @ np.array(single_price, int))


def test_a_set_is_bought_where_it_costs_less_than_the_cables_it_saves():
    """Worked by hand: two cables for 1000 and 1500, or both as a set for 2400; three of the first are needed."""
    bought = cheapest_purchase([3, 1], [1000, 1500], [[1, 1]], [2400])
    assert (bought.sets.tolist(), bought.singles.tolist()) == ([1], [2, 0])


def test_of_what_costs_the_same_single_cables_are_bought():
    bought = cheapest_purchase([1, 1], [1000, 1500], [[1, 1]], [2500])
    assert (bought.sets.tolist(), bought.singles.tolist()) == ([0], [1, 1])


def test_a_set_with_a_cable_too_many_is_bought_where_it_is_cheaper_all_the_same():
    bought = cheapest_purchase([1, 0], [1000, 1500], [[1, 1]], [900])
    assert (bought.sets.tolist(), bought.singles.tolist()) == ([1], [0, 0])


def test_sets_that_share_lengths_are_weighed_together():
    """The dearer set saves the most by itself; with two of the cheaper ones nothing is left for it to save."""
    bought = cheapest_purchase([2, 2], [1000, 1000], [[1, 1], [2, 2]], [1100, 2300])
    assert (bought.sets.tolist(), bought.singles.tolist()) == ([2, 0], [0, 0])


def test_nothing_needed_is_nothing_bought():
    bought = cheapest_purchase([0, 0], [10, 10], [[1, 1]], [1])
    assert (bought.sets.tolist(), bought.singles.tolist()) == ([0], [0, 0])
    assert cheapest_purchase([], [], [], []).sets.tolist() == []


@st.composite
def lists(draw):
    kinds, sets = draw(st.integers(1, 3)), draw(st.integers(1, 2))
    needed = draw(st.lists(st.integers(0, 5), min_size=kinds, max_size=kinds))
    single = draw(st.lists(st.integers(1, 40), min_size=kinds, max_size=kinds))
    holds = draw(st.lists(st.lists(st.integers(0, 2), min_size=kinds, max_size=kinds), min_size=sets, max_size=sets))
    return needed, single, holds, draw(st.lists(st.integers(1, 90), min_size=sets, max_size=sets))


@given(lists())
@settings(max_examples=examples(60))
def test_no_other_way_of_buying_costs_less(given_list):
    needed, single_price, holds, set_price = given_list
    bought = cheapest_purchase(*given_list)
    assert np.all(bought.sets @ np.array(holds) + bought.singles >= needed)
    ways = [
        (np.dot(sets, set_price) + np.maximum(needed - np.dot(sets, holds), 0) @ single_price, sum(sets))
        for sets in product(range(6), repeat=len(holds))
    ]
    assert (cost(bought, single_price, set_price), bought.sets.sum()) == min(ways)


@pytest.mark.parametrize("size", [40])
def test_a_large_list_is_settled(size):
    """As many kinds as a pool of ten designs has; no goal of time, it only has to end."""
    draw = np.random.default_rng(7)
    needed, single = draw.integers(0, 60, size), draw.integers(500, 4000, size)
    holds = (draw.random((10, size)) < 0.2).astype(int)
    prices = (holds @ single * draw.uniform(0.7, 1.1, 10)).astype(int)
    bought = cheapest_purchase(needed, single, holds, prices)
    assert cost(bought, single, prices) < needed @ single
