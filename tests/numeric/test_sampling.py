"""Sizes and intervals of samples, against published tables and values, and against counting."""

from itertools import combinations
from math import comb

import pytest

from inspections.numeric.sampling import (
    binomial_size,
    chance_of_at_most,
    clopper_pearson,
    hypergeometric_interval,
    hypergeometric_size,
    success_run_size,
)

# usual tables of success runs (from memory); 0.999 at 95 %: documentation of the package `reliability`;
# 99.8 % derived from the formula
SUCCESS_RUNS = [
    *((0.95, 0.95, 59), (0.90, 0.90, 22), (0.95, 0.90, 29), (0.95, 0.99, 299)),
    *((0.90, 0.95, 45), (0.90, 0.99, 230), (0.99, 0.99, 459), (0.95, 0.999, 2995)),
    *((0.90, 0.998, 1151), (0.95, 0.998, 1497), (0.99, 0.998, 2301)),
]


@pytest.mark.parametrize(("confidence", "sound", "size"), SUCCESS_RUNS)
def test_success_run_sizes_are_those_of_the_tables(confidence, sound, size):
    assert success_run_size(1 - sound, confidence) == size
    assert binomial_size(1 - sound, confidence) == size


def test_a_success_run_that_comes_out_whole_is_not_rounded_up():
    """ln 0.25 / ln 0.5 = 2."""
    assert success_run_size(0.5, 0.75) == 2


# first column as above, the others derived from the binomial chance
ALLOWED = [
    (0.05, [59, 93, 124, 153, 181, 208]),
    (0.10, [22, 38, 52, 65, 78, 91]),
    (0.002, [1497, 2371, 3146, 3875, 4575, 5254]),
]


@pytest.mark.parametrize(("share", "sizes"), ALLOWED)
def test_sizes_with_so_many_allowed_over(share, sizes):
    confidence = 0.90 if share == 0.10 else 0.95
    assert [binomial_size(share, confidence, allowed) for allowed in range(6)] == sizes


# Cannon and Roe 1982 (recalculated workbook): 1600 animals, 1 %, 99 %; the others are of the same family of tables
# (from memory) and exact by derivation
FINITE = [
    *((1600, 16, 0.99, 399), (100, 1, 0.95, 95), (100, 2, 0.95, 78), (100, 5, 0.95, 45), (100, 10, 0.95, 25)),
    *((50, 5, 0.95, 22), (200, 10, 0.95, 51), (1000, 50, 0.95, 57)),
]


@pytest.mark.parametrize(("pool", "over", "confidence", "size"), FINITE)
def test_sizes_of_a_finite_pool_are_those_of_the_tables(pool, over, confidence, size):
    assert hypergeometric_size(pool, over, confidence) == size
    assert chance_of_at_most(0, size, over, pool) <= 1 - confidence < chance_of_at_most(0, size - 1, over, pool)


def test_the_chance_is_that_of_counting():
    """The two figures of the table family for 100 with 5 over: 0.046206 at 45, 0.050736 at 44."""
    assert chance_of_at_most(0, 45, 5, 100) == pytest.approx(0.046206, abs=1e-6)
    assert chance_of_at_most(0, 44, 5, 100) == pytest.approx(0.050736, abs=1e-6)
    assert chance_of_at_most(0, 44, 5, 100) == pytest.approx(comb(95, 44) / comb(100, 44))
    clean = sum(not {0, 1} & set(drawn) for drawn in combinations(range(8), 3))
    assert chance_of_at_most(0, 3, 2, 8) == pytest.approx(clean / comb(8, 3))


# NIST/SEMATECH e-Handbook 6.2.3.2, plan (52, 3), shares of 1 to 12 % over; at 4 and 5 % it prints .845 and .739, the
# last place of the recomputed ones being another
PLAN = [0.998, 0.980, 0.930, 0.846, 0.738, 0.620, 0.502, 0.394, 0.300, 0.223, 0.162, 0.115]
ENDLESS = 10_000_000


@pytest.mark.parametrize(("percent", "chance"), [*enumerate(PLAN, start=1)])
def test_a_plan_of_the_handbook_is_passed_as_often_as_it_says(percent, chance):
    assert chance_of_at_most(3, 52, ENDLESS * percent // 100, ENDLESS) == pytest.approx(chance, abs=1e-3)


def test_none_of_twenty_over():
    """ISO 2859-1, table 10-F (from memory): 20 drawn, none allowed: passed 95 times in 100 with 0.2561 % over, and
    ten times with 10.875 %."""
    assert chance_of_at_most(0, 20, round(ENDLESS * 0.002561), ENDLESS) == pytest.approx(0.95, abs=1e-4)
    assert clopper_pearson(0, 20, confidence=0.80)[1] == pytest.approx(0.10875, abs=5e-6)


def test_a_pool_too_small_to_be_sampled_is_read_whole():
    assert hypergeometric_size(3, 1, 0.95) == 3
    assert hypergeometric_size(1, 1, 0.95) == 1


INTERVALS = [
    # documentation of the package `reliability`: 29 of 30
    (29, 30, 0.95, (0.82783054, 0.99915643), 1e-8),
    # NIST/SEMATECH e-Handbook 7.2.4.1: 4 of 20 (from memory)
    (4, 20, 0.90, (0.0713539, 0.4010281), 1e-6),
    # Newcombe 1998, Statistics in Medicine 17:857 (from memory)
    (81, 263, 0.95, (0.2527, 0.3676), 5e-5),
    (15, 148, 0.95, (0.0578, 0.1617), 5e-5),
    (0, 20, 0.95, (0.0, 0.1684), 5e-5),
    (1, 29, 0.95, (0.0009, 0.1776), 5e-5),
]


@pytest.mark.parametrize(("over", "size", "confidence", "interval", "tolerance"), INTERVALS)
def test_exact_intervals_are_the_published_ones(over, size, confidence, interval, tolerance):
    assert clopper_pearson(over, size, confidence) == pytest.approx(interval, abs=tolerance)


def test_undecided_ones_widen_an_interval_upwards_only():
    low, high = clopper_pearson(1, 12, most_over=3)
    assert low == clopper_pearson(1, 12)[0]
    assert high == clopper_pearson(3, 12)[1]
    assert hypergeometric_interval(1, 12, 48, most_over=3) == (
        hypergeometric_interval(1, 12, 48)[0],
        hypergeometric_interval(3, 12, 48)[1],
    )


def test_nothing_read_says_nothing():
    assert clopper_pearson(0, 0) == (0.0, 1.0)
    assert hypergeometric_interval(0, 0, 9) == (0, 9)


def test_a_whole_pool_read_leaves_nothing_open():
    assert hypergeometric_interval(3, 20, 20) == (3, 3)


@pytest.mark.parametrize(("size", "pool"), [(5, 12), (8, 20), (12, 13)])
def test_of_a_finite_pool_the_interval_holds_the_truth_as_often_as_it_says(size, pool):
    """Whatever number is over: the chance of a sample whose interval holds it, by counting, is 95 % or more."""
    intervals = {over: hypergeometric_interval(over, size, pool) for over in range(size + 1)}
    for truth in range(pool + 1):
        chances = (
            comb(truth, over) * comb(pool - truth, size - over) / comb(pool, size)
            for over in range(max(0, size - (pool - truth)), min(size, truth) + 1)
            if intervals[over][0] <= truth <= intervals[over][1]
        )
        assert sum(chances) >= 0.95


def test_in_a_large_pool_it_is_the_interval_of_a_pool_without_end():
    low, high = hypergeometric_interval(4, 30, 200_000)
    assert (low / 200_000, high / 200_000) == pytest.approx(clopper_pearson(4, 30), abs=2e-4)
