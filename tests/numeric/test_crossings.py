"""Chance of being over and crossing times of a normally distributed line; sources beside each value."""

import numpy as np
import pytest

from inspections.numeric.crossings import (
    bivariate_normal,
    chance_over,
    chance_over_rising,
    crossing_time,
    falling_chance,
    find_crossings,
    time_of_rising_chance,
)
from inspections.numeric.posteriors import SegmentLines


def make_lines(intercept, rate, c00, c01, c11):
    return SegmentLines(*(np.atleast_1d(np.asarray(v, float)) for v in (intercept, rate, c00, c01, c11)))


# m (2, .03), C (.04, -.006, .0036), limit 3: a Monte Carlo of 2 million gave 0.000940, 0.133910, 0.689235
SLOW = make_lines(2, 0.03, 0.04, -0.006, 0.0036)


@pytest.mark.parametrize(
    ("t", "rising", "plain"), [(5, 0.000951, 0.000657), (10, 0.134408, 0.092938), (30, 0.689361, 0.476667)]
)
def test_wear_that_does_not_heal(t, rising, plain):
    # derived by Owen's T; the unconditioned values stand beside them
    assert chance_over_rising(SLOW, t, 3)[0] == pytest.approx(rising, abs=1e-6)
    assert chance_over(SLOW, t, 3)[0] == pytest.approx(plain, abs=1e-6)


def test_conditioned_chance_agrees_with_drawing_lines():
    rng = np.random.default_rng(20)
    a, b = rng.multivariate_normal([2, 0.03], [[0.04, -0.006], [-0.006, 0.0036]], 400_000).T
    rising = a[b >= 0] + 10 * b[b >= 0] >= 3
    error = rising.std() / np.sqrt(rising.size)
    assert chance_over_rising(SLOW, 10, 3)[0] == pytest.approx(rising.mean(), abs=4 * error)


def test_owens_t_agrees_with_a_library_for_two_normals():
    from scipy.stats import multivariate_normal

    rng = np.random.default_rng(3)
    h, k, rho = rng.normal(0, 1.5, 40), rng.normal(0, 1.5, 40), rng.uniform(-0.98, 0.98, 40)
    expected = [
        multivariate_normal.cdf([a, b], cov=[[1, r], [r, 1]], abseps=1e-11, releps=1e-11)
        for a, b, r in zip(h, k, rho, strict=True)
    ]
    assert bivariate_normal(h, k, rho, np.sqrt(1 - rho**2)) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("h", "k", "rho", "expected"),
    [(0, 0, 0.5, 1 / 3), (0, 0, 0, 0.25), (0, 1, 0, 0.5 * 0.8413447461), (-8, 8, 0.3, 6.2e-16), (40, 40, 0.9, 1)],
)
def test_two_normals_at_their_corners(h, k, rho, expected):
    # P(X <= 0, Y <= 0) = 1/4 + arcsin(rho) / 2 pi (Sheppard 1899)
    found = bivariate_normal(np.array([h]), np.array([k]), np.array([rho]), np.array([np.sqrt(1 - rho**2)]))
    assert found[0] == pytest.approx(expected, abs=1e-10)


def test_line_with_full_correlation_is_still_answered():
    lines = make_lines(1.0, 0.1, 0.04, 0.004, 0.0004)
    assert chance_over_rising(lines, 5, 3)[0] == pytest.approx(chance_over(lines, 5, 3)[0], abs=1e-6)


def test_chance_at_the_crossing_time_is_the_chance_asked():
    rng = np.random.default_rng(5)
    lines = make_lines(
        rng.normal(1, 0.3, 500), rng.uniform(0.1, 0.6, 500), *np.outer([0.01, -0.002, 0.0009], np.ones(500))
    )
    for chance in (0.001, 0.05, 0.3, 0.5):
        t = crossing_time(lines, 3.0, chance)
        assert np.isfinite(t).all()
        assert chance_over(lines, t, 3.0) == pytest.approx(np.full(500, chance), abs=1e-9)


def test_expected_time_is_never_lost_to_rounding():
    # At one half the quadratic's discriminant is 0, and rounding made it negative for 28.5 % of 60,000 trial segments.
    rng = np.random.default_rng(6)
    n = 60_000
    lines = make_lines(
        rng.normal(1.2, 0.3, n), rng.uniform(0.05, 0.6, n), np.full(n, 0.01), np.full(n, -0.001), np.full(n, 5e-4)
    )
    t = crossing_time(lines, 3.0, 0.5)
    assert np.isfinite(t).all()
    assert t == pytest.approx(np.maximum((3.0 - lines.intercept) / lines.rate, 0), rel=1e-12)


def test_early_time_is_zero_where_the_risk_is_there_at_fitting():
    lines = make_lines([2.9, 3.5, 1.0], [0.2, 0.2, 0.2], [0.04] * 3, [0.0] * 3, [0.0001] * 3)
    early = crossing_time(lines, 3.0, 0.05)
    assert early[:2].tolist() == [0, 0]
    assert early[2] > 5


def test_early_comes_before_expected():
    lines = make_lines([1.0, 1.5], [0.3, 0.2], [0.01] * 2, [-0.001] * 2, [0.001] * 2)
    found = find_crossings(lines, 2.0, 3.0, 0.05, 40.0)
    assert (found.early < found.expected).all()


def test_a_smaller_accepted_risk_is_reached_earlier():
    lines = make_lines([1.0] * 3, [0.3] * 3, [0.01] * 3, [-0.001] * 3, [0.001] * 3)
    early = find_crossings(lines, 2.0, 3.0, [0.01, 0.05, 0.2], 40.0).early
    assert early[0] < early[1] < early[2]


def test_each_segment_may_have_its_own_limit():
    lines = make_lines([1.0] * 2, [0.3] * 2, [1e-9] * 2, [0.0] * 2, [1e-12] * 2)
    assert find_crossings(lines, 0.0, [2.5, 4.0], 0.05, 40.0).expected == pytest.approx([5, 10], rel=1e-6)


def rates_with_falling_chance(p, n=1):
    """Lines whose chance of a falling rate is p."""
    from scipy.special import ndtri

    sd = 0.06
    return make_lines(
        np.full(n, 1.5), np.full(n, -sd * ndtri(p)), np.full(n, 0.02), np.full(n, -0.002), np.full(n, sd**2)
    )


def test_condition_sets_in_where_a_fall_is_not_out_of_the_question():
    never, sometimes = rates_with_falling_chance(0.0009), rates_with_falling_chance(0.0011)
    assert find_crossings(never, 4, 3, 0.05, 40).chance_over[0] == chance_over(never, 4, 3)[0]
    assert find_crossings(sometimes, 4, 3, 0.05, 40).chance_over[0] == chance_over_rising(sometimes, 4, 3)[0]


def test_condition_makes_the_date_earlier_and_by_little_where_it_sets_in():
    # trial: median jump 0 / 3 / 21 days at P(b < 0) = 0.001 / 0.01 / 0.05
    for p, days in ((0.001, 2), (0.01, 30), (0.05, 150)):
        lines = rates_with_falling_chance(p)
        conditioned = time_of_rising_chance(lambda t, i, lines=lines: chance_over_rising(lines, t, 3), 0.05, 40.0, 1)
        earlier = 365.25 * (crossing_time(lines, 3, 0.05) - conditioned)[0]
        assert 0 <= earlier <= days


def test_conditioned_date_and_chance_use_the_same_formula():
    lines = rates_with_falling_chance(0.2, n=3)
    found = find_crossings(lines, 4, 3, [0.05, 0.1, 0.3], 40)
    assert chance_over_rising(lines, found.early, 3) == pytest.approx([0.05, 0.1, 0.3], abs=1e-8)
    assert chance_over_rising(lines, found.expected, 3) == pytest.approx([0.5] * 3, abs=1e-8)


def test_falling_line_has_no_chance_and_no_date():
    found = find_crossings(rates_with_falling_chance(0.976), 4, 3, 0.05, 40)
    assert found.falling[0]
    assert np.isnan([found.chance_over[0], found.early[0], found.expected[0]]).all()
    assert not find_crossings(rates_with_falling_chance(0.974), 4, 3, 0.05, 40).falling[0]


def test_later_than_the_horizon_is_said_and_not_dated():
    lines = make_lines([0.5, 0.5], [0.03, 0.2], [0.001] * 2, [0.0] * 2, [1e-6, 1e-6])
    found = find_crossings(lines, 1, 3, 0.05, 40)
    assert np.isinf([found.early[0], found.expected[0]]).all()
    assert np.isfinite([found.early[1], found.expected[1]]).all()


def test_a_conditioned_line_crosses_some_day():
    # with b >= 0 every line does: beyond the horizon, but not never
    lines = rates_with_falling_chance(0.9)
    assert np.isinf(find_crossings(lines, 1, 3, 0.05, 40.0).expected[0])
    assert np.isfinite(find_crossings(lines, 1, 3, 0.05, 5000.0).expected[0])


def test_next_reading_and_line_are_different_statements():
    # "the next reading is over" adds sigma^2: below the limit it is the likelier of the two
    lines = make_lines(2.0, 0.2, 0.01, 0.0, 0.0004)
    reading = lines._replace(c00=lines.c00 + 0.15**2)
    assert chance_over(reading, 3, 3)[0] > 2 * chance_over(lines, 3, 3)[0]


def test_falling_chance_of_a_level_line_is_one_half():
    assert falling_chance(make_lines(1, 0, 0.01, 0, 0.01))[0] == 0.5
