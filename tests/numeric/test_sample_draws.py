"""A draw can be repeated by anybody, is fair, and holds what was asked of its strata."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.numeric.sample_draws import allocation, draw, order_of_draw

NONE_BEFORE = np.zeros(60, bool)


def test_the_same_seed_draws_the_same_and_another_seed_others():
    strata = np.repeat([0, 1, 2], 20)
    first = draw(strata, 12, 7, NONE_BEFORE)
    assert draw(strata, 12, 7, NONE_BEFORE).tolist() == first.tolist()
    assert draw(strata, 12, 8, NONE_BEFORE).tolist() != first.tolist()


def pcg64_raw(state, increment, count):
    """PCG XSL RR 128/64 as its paper has it (O'Neill 2014, HMC-CS-2014-0905), written out here."""
    for _ in range(count):
        state = (state * 0x2360ED051FC65DA44385DF649FCCF645 + increment) % 2**128
        word, turn = (state >> 64) ^ (state % 2**64), state >> 122
        yield ((word >> turn) | (word << (64 - turn) % 64)) % 2**64


def test_the_order_is_that_of_raw_numbers_of_the_generator_that_is_named():
    start = np.random.PCG64(20_260_103).state["state"]
    raw = list(pcg64_raw(start["state"], start["inc"], 48))
    assert order_of_draw(48, 20_260_103).tolist() == sorted(range(48), key=raw.__getitem__)


def test_shares_follow_the_strata_by_the_largest_remainder():
    """Of 20, 20 and 8 of 48 a dozen: 5, 5 and 2; of 10, 9 and 1 ten: 5, 4.5 and 0.5, the first of equal remainders."""
    assert allocation([20, 20, 8], 12).tolist() == [5, 5, 2]
    assert allocation([10, 9, 1], 10).tolist() == [5, 4, 1]


def test_a_small_stratum_is_drawn_from_where_the_sample_suffices():
    assert allocation([40, 6, 1, 1], 8).tolist() == [5, 1, 1, 1]
    assert allocation([40, 6, 1, 1], 3).tolist() == [3, 0, 0, 0]
    assert allocation([40, 0, 2], 5).tolist() == [4, 0, 1]


@given(st.lists(st.integers(0, 30), min_size=1, max_size=5), st.data())
def test_an_allocation_is_whole_and_asks_for_no_more_than_there_is(counts, data):
    size = data.draw(st.integers(0, sum(counts)))
    drawn = allocation(counts, size)
    assert drawn.sum() == size
    assert all(0 <= mats <= count for mats, count in zip(drawn, counts, strict=True))
    if size >= sum(count > 0 for count in counts):
        assert all(mats > 0 for mats, count in zip(drawn, counts, strict=True) if count)


@given(st.lists(st.tuples(st.integers(0, 3), st.booleans()), min_size=1, max_size=40), st.data())
def test_so_many_of_the_last_sample_come_again_and_the_rest_are_new_as_far_as_there_are(frame, data):
    strata, before = np.array([row[0] for row in frame]), np.array([row[1] for row in frame])
    size = data.draw(st.integers(0, len(frame)))
    same = data.draw(st.integers(0, size))
    rows = draw(strata, size, data.draw(st.integers(0, 10**6)), before, same)
    assert len(set(rows.tolist())) == size
    wanted = allocation(np.bincount(strata), size)
    assert np.bincount(strata[rows], minlength=len(wanted)).tolist() == wanted.tolist()
    again = int(before[rows].sum())
    possible = sum(min(n, int(before[strata == h].sum())) for h, n in enumerate(wanted.tolist()))
    assert again >= min(same, possible)
    if again > min(same, possible):
        assert any((~before[strata == h]).sum() < n for h, n in enumerate(wanted.tolist()))


def test_every_mat_is_drawn_about_as_often_as_its_stratum_says():
    """4,000 draws of 6 of 24: each mat 1,000 times, sd √(4000·¼·¾) = 27; six of them is beyond chance."""
    times = np.zeros(24)
    for seed in range(4000):
        times[draw(np.repeat([0, 1], 12), 6, seed, np.zeros(24, bool))] += 1
    assert times == pytest.approx(np.full(24, 1000), abs=6 * 27)
