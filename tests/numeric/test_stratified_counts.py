"""How many of a pool are over by a sample drawn by strata: the stated 95 % hold for every split over them."""

from itertools import product
from math import prod

import numpy as np
import pytest
from scipy.stats import hypergeom

from inspections.numeric.sample_draws import allocation
from inspections.numeric.sampling import hypergeometric_interval
from inspections.numeric.stratified_counts import _highest, _lowest, stratified_interval


def chances(pools, sizes):
    """{split: {what is found in each stratum: its chance}} of every split of over ones over these strata."""
    of_stratum = [
        [hypergeom(pool, number, size).pmf(np.arange(size + 1)) for number in range(pool + 1)]
        for pool, size in zip(pools, sizes, strict=True)
    ]
    found = list(product(*(range(size + 1) for size in sizes)))
    return {
        split: {each: prod(of_stratum[h][split[h]][k] for h, k in enumerate(each)) for each in found}
        for split in product(*(range(pool + 1) for pool in pools))
    }


def smallest_coverage(pools, sizes, interval):
    """Over every split: how often the interval of what is found holds the true number."""
    every = chances(pools, sizes)
    ends = {each: interval(each) for each in next(iter(every.values()))}
    return min(
        sum(chance for each, chance in found.items() if ends[each][0] <= sum(split) <= ends[each][1])
        for split, found in every.items()
    )


@pytest.mark.parametrize(
    ("pools", "sizes"),
    [
        ((6, 4), None),
        ((12, 8), None),
        ((5, 4, 3), None),
        ((2, 30), None),
        # one of each age at least: the two small ones are read whole
        ((1, 1, 30), None),
        # half measured, and the young ones first
        ((6, 6), (4, 1)),
        ((6, 6), (4, 0)),
    ],
)
def test_it_holds_the_true_number_as_often_as_it_says_whatever_the_split(pools, sizes):
    sizes = sizes or allocation(pools, max(sum(pools) // 3, 5)).tolist()
    assert smallest_coverage(pools, sizes, lambda found: stratified_interval(found, sizes, pools)) >= 0.95


def test_without_regard_to_strata_it_would_not():
    """Why it is needed: 1, 1 and 30 mats, of which 1, 1 and 8 are drawn."""

    def plain(found):
        return hypergeometric_interval(sum(found), 10, 32)

    assert smallest_coverage((1, 1, 30), (1, 1, 8), plain) < 0.8


@pytest.mark.parametrize(("over", "size", "pool"), [(1, 9, 12), (0, 9, 17), (2, 21, 48), (5, 5, 10), (0, 0, 7)])
def test_of_one_stratum_it_is_the_plain_interval(over, size, pool):
    assert stratified_interval([over], [size], [pool]) == hypergeometric_interval(over, size, pool)


def test_strata_read_whole_leave_nothing_open_and_unread_ones_all():
    assert stratified_interval([2, 0], [5, 3], [5, 3]) == (2, 2)
    assert stratified_interval([1, 0], [5, 0], [5, 4]) == (1, 5)
    assert stratified_interval([1], [4], [4], most_over=[3]) == (1, 3)


@pytest.mark.parametrize("read", [((3, 6), (2, 4)), ((4, 5), (1, 6)), ((1, 3), (2, 5), (2, 3))])
def test_uphill_finds_what_a_search_of_all_splits_finds(read):
    sizes, pools = zip(*read, strict=True)
    every = chances(pools, sizes)
    for found in range(sum(sizes) + 1):
        few, many = {}, {}
        for split, chance in every.items():
            number = sum(split)
            few[number] = max(few.get(number, 0), sum(p for each, p in chance.items() if sum(each) <= found))
            many[number] = max(many.get(number, 0), sum(p for each, p in chance.items() if sum(each) >= found))
        assert _highest(found, read, 0.025) == max(number for number, chance in few.items() if chance > 0.025)
        assert _lowest(found, read, 0.025) == min(number for number, chance in many.items() if chance > 0.025)
