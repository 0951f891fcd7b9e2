"""Chance of being over and crossing times of a normally distributed state; sources beside each value.

Without wander the state is a line, and the values are those of statistics.md section 8 and of the old line.
"""

import numpy as np
import pytest

from inspections.numeric.crossings import (
    Limits,
    bivariate_normal,
    chance_over,
    chance_over_rising,
    crossing_time,
    falling_chance,
    find_crossings,
    time_of_rising_chance,
)
from inspections.numeric.wear_states import SegmentStates


def make_states(level, rate, c00, c01, c11, q=0.0):
    columns = (np.atleast_1d(np.asarray(v, float)) for v in (level, rate, c00, c01, c11, q))
    return SegmentStates(*np.broadcast_arrays(*columns))


def find(states, now=2.0, limit_db=3.0, risk=0.05, horizon=40.0, settling_db=0.0, f_last=0.0):
    """Crossings; numbers stand for all segments."""
    count = len(states.rate)
    limits = Limits(np.broadcast_to(np.asarray(limit_db, float), count), settling_db, np.full(count, f_last), True)
    return find_crossings(states, limits, *(np.broadcast_to(np.asarray(v, float), count) for v in (now, risk, horizon)))


def time_of(states, chance):
    count = len(states.rate)
    return crossing_time(states, Limits(np.full(count, 3.0), 0.0, np.zeros(count), True), chance)


# m (2, .03), C (.04, -.006, .0036), limit 3: a Monte Carlo of 2 million gave 0.000940, 0.133910, 0.689235
SLOW = make_states(2, 0.03, 0.04, -0.006, 0.0036)


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
    states = make_states(1.0, 0.1, 0.04, 0.004, 0.0004)
    assert chance_over_rising(states, 5, 3)[0] == pytest.approx(chance_over(states, 5, 3)[0], abs=1e-6)


def test_chance_at_the_crossing_time_is_the_chance_asked():
    rng = np.random.default_rng(5)
    states = make_states(
        rng.normal(1, 0.3, 500), rng.uniform(0.1, 0.6, 500), *np.outer([0.01, -0.002, 0.0009], np.ones(500))
    )
    for chance in (0.001, 0.05, 0.3, 0.5):
        t = time_of(states, chance)
        assert np.isfinite(t).all()
        assert chance_over(states, t, 3.0) == pytest.approx(np.full(500, chance), abs=1e-9)


def test_expected_time_is_never_lost_to_rounding():
    # At one half the quadratic's discriminant is 0, and rounding made it negative for 28.5 % of 60,000 trial segments.
    rng = np.random.default_rng(6)
    n = 60_000
    states = make_states(
        rng.normal(1.2, 0.3, n), rng.uniform(0.05, 0.6, n), np.full(n, 0.01), np.full(n, -0.001), np.full(n, 5e-4)
    )
    t = time_of(states, 0.5)
    assert np.isfinite(t).all()
    assert t == pytest.approx(np.maximum((3.0 - states.level) / states.rate, 0), rel=1e-12)


def test_early_time_is_zero_where_the_risk_is_there_at_fitting():
    states = make_states([2.9, 3.5, 1.0], [0.2, 0.2, 0.2], [0.04] * 3, [0.0] * 3, [0.0001] * 3)
    early = time_of(states, 0.05)
    assert early[:2].tolist() == [0, 0]
    assert early[2] > 5


def test_early_comes_before_expected():
    states = make_states([1.0, 1.5], [0.3, 0.2], [0.01] * 2, [-0.001] * 2, [0.001] * 2)
    found = find(states)
    assert (found.early < found.expected).all()


def test_a_smaller_accepted_risk_is_reached_earlier():
    states = make_states([1.0] * 3, [0.3] * 3, [0.01] * 3, [-0.001] * 3, [0.001] * 3)
    early = find(states, 2.0, risk=[0.01, 0.05, 0.2]).early
    assert early[0] < early[1] < early[2]


def test_each_segment_may_have_its_own_limit():
    states = make_states([1.0] * 2, [0.3] * 2, [1e-9] * 2, [0.0] * 2, [1e-12] * 2)
    assert find(states, 0.0, limit_db=[2.5, 4.0]).expected == pytest.approx([5, 10], rel=1e-6)


def rates_with_falling_chance(p, n=1):
    """Lines whose chance of a falling rate is p."""
    from scipy.special import ndtri

    sd = 0.06
    return make_states(
        np.full(n, 1.5), np.full(n, -sd * ndtri(p)), np.full(n, 0.02), np.full(n, -0.002), np.full(n, sd**2)
    )


def test_condition_sets_in_where_a_fall_is_not_out_of_the_question():
    never, sometimes = rates_with_falling_chance(0.0009), rates_with_falling_chance(0.0011)
    assert find(never, 4).chance_over[0] == chance_over(never, 4, 3)[0]
    assert find(sometimes, 4).chance_over[0] == chance_over_rising(sometimes, 4, 3)[0]


def test_condition_makes_the_date_earlier_and_by_little_where_it_sets_in():
    # trial: median jump 0 / 3 / 21 days at P(b < 0) = 0.001 / 0.01 / 0.05
    for p, days in ((0.001, 2), (0.01, 30), (0.05, 150)):
        states = rates_with_falling_chance(p)
        conditioned = time_of_rising_chance(lambda t, i, states=states: chance_over_rising(states, t, 3), 0.05, 40.0, 1)
        earlier = 365.25 * (time_of(states, 0.05) - conditioned)[0]
        assert 0 <= earlier <= days


def test_conditioned_date_and_chance_use_the_same_formula():
    states = rates_with_falling_chance(0.2, n=3)
    found = find(states, 4, risk=[0.05, 0.1, 0.3])
    # dates are found to 1e-4 years, an hour
    assert chance_over_rising(states, found.early, 3) == pytest.approx([0.05, 0.1, 0.3], abs=1e-5)
    assert chance_over_rising(states, found.expected, 3) == pytest.approx([0.5] * 3, abs=1e-5)


def test_falling_line_has_no_chance_and_no_date():
    found = find(rates_with_falling_chance(0.976), 4)
    assert found.falling[0]
    assert np.isnan([found.chance_over[0], found.early[0], found.expected[0]]).all()
    assert not find(rates_with_falling_chance(0.974), 4).falling[0]


def test_later_than_the_horizon_is_said_and_not_dated():
    states = make_states([0.5, 0.5], [0.03, 0.2], [0.001] * 2, [0.0] * 2, [1e-6, 1e-6])
    found = find(states, 1)
    assert np.isinf([found.early[0], found.expected[0]]).all()
    assert np.isfinite([found.early[1], found.expected[1]]).all()


def test_a_conditioned_line_crosses_some_day():
    # with b >= 0 every line does: beyond the horizon, but not never
    states = rates_with_falling_chance(0.9)
    assert np.isinf(find(states, 1).expected[0])
    assert np.isfinite(find(states, 1, horizon=5000.0).expected[0])


def test_next_reading_and_line_are_different_statements():
    # "the next reading is over" adds sigma^2: below the limit it is the likelier of the two
    states = make_states(2.0, 0.2, 0.01, 0.0, 0.0004)
    reading = states._replace(c00=states.c00 + 0.15**2)
    assert chance_over(reading, 3, 3)[0] > 2 * chance_over(states, 3, 3)[0]


def test_falling_chance_of_a_level_line_is_one_half():
    assert falling_chance(make_states(1, 0, 0.01, 0, 0.01))[0] == 0.5


# --- wander: variance q a unit from the last reading on


def wandering(q):
    """Five states, from far below the limit to near it; none may be falling."""
    return make_states([0.5, 1.0, 1.6, 2.2, 2.8], [0.3] * 5, [0.01] * 5, [0.001] * 5, [0.0009] * 5, q)


@pytest.mark.parametrize("q", [0.0, 0.002, 0.0087, 0.1])
@pytest.mark.parametrize("chance", [0.01, 0.05, 0.5, 0.8])
def test_time_with_wander_is_that_of_root_finding(q, chance):
    from scipy.optimize import brentq
    from scipy.stats import norm

    states = wandering(q)
    for i, ours in enumerate(time_of(states, chance)):
        x, b, c00, c01, c11 = (part[i] for part in states[:5])

        def short(h, x=x, b=b, c=(c00, c01, c11)):
            return norm.cdf((x + b * h - 3) / np.sqrt(c[0] + 2 * c[1] * h + c[2] * h * h + q * h)) - chance

        assert ours == (pytest.approx(brentq(short, 0, 200, xtol=1e-12), abs=1e-9) if short(0) < 0 else 0)


def test_wander_brings_the_early_time_and_leaves_the_expected_one():
    still, wanders = find(wandering(0.0)), find(wandering(0.0087))
    assert (wanders.early[:3] < still.early[:3]).all()
    assert wanders.expected == pytest.approx(still.expected, rel=1e-12)


def test_conditioned_chance_with_wander_agrees_with_drawing_paths():
    rng, h = np.random.default_rng(21), 8.0
    x, b = rng.multivariate_normal([2, 0.03], [[0.04, -0.006], [-0.006, 0.0036]], 400_000).T
    rising = (x + b * h + np.sqrt(0.0087 * h) * rng.standard_normal(x.size) >= 3)[b >= 0]
    error = rising.std() / np.sqrt(rising.size)
    states = make_states(2, 0.03, 0.04, -0.006, 0.0036, 0.0087)
    assert chance_over_rising(states, h, 3)[0] == pytest.approx(rising.mean(), abs=4 * error)


# --- settling: what gathers and levels off, 0.7 years


def test_limit_is_lowered_by_a_quarter_of_what_settles_and_by_what_is_still_to_come():
    # derived: mu 0.2 dB, of which 1 - 1/e has come by 0.7 years; of the rest as much again 0.7 years later
    limits = Limits(np.array([3.0]), 0.2, np.array([1 - np.exp(-1)]), True)
    assert limits.at(0.0)[0] == pytest.approx(2.95)
    assert limits.at(0.7)[0] == pytest.approx(2.95 - 0.2 * (np.exp(-1) - np.exp(-2)))
    assert limits.at(1e6)[0] == pytest.approx(2.95 - 0.2 * np.exp(-1))


def test_a_settling_below_nothing_raises_no_limit():
    # readings that fall at first: what is still to fall counts, the quarter does not
    limits = Limits(np.array([3.0]), -0.2, np.zeros(1), True)
    assert limits.at(0.0)[0] == 3.0
    assert limits.at(1e6)[0] == pytest.approx(3.2)


def test_date_with_settling_has_the_chance_asked():
    states = wandering(0.0087)
    limits = Limits(np.full(5, 3.0), 0.3, np.full(5, 0.2), True)
    for chance in (0.05, 0.5):
        ahead = crossing_time(states, limits, chance)
        # three secants leave an hour of a date within days of the last reading, nothing of later ones
        there = chance_over(states, ahead, limits.at(ahead))[ahead > 0]
        assert there == pytest.approx(np.full(there.size, chance), abs=1e-3)
