"""Limits at the accepted risk, and what today's limit does: against simulation, the trend and known truths."""

import numpy as np
import pytest
from drawn_pools import draw_pool, fitted_pool

from inspections.numeric.lives.limits_by_length import life_left, limits_of_kinds
from inspections.numeric.lives.modelled import Kinds, fresh_lives
from inspections.numeric.pool_model import fit_pool_model

POOLS = 14
LENGTHS = np.array([0.6, 1.1, 2.1, 3.0])
HORIZON = 40.0


@pytest.mark.parametrize("segments", [40, 300])
def test_longer_cables_have_lower_limits_and_the_limit_lies_in_its_interval(segments):
    found = limits_of_kinds(fitted_pool(segments).points, Kinds.of(LENGTHS), 3.0)
    age = found.age
    assert (np.diff(age) < 0).all()
    assert ((found.low <= age) & (age <= found.high)).all()
    assert (np.diff(found.today_share_over) >= 0).all()
    assert (np.diff(found.today_life_left) <= 0).all()
    assert ((found.today_low <= found.today_share_over) & (found.today_share_over <= found.today_high))[2:].all()


def test_at_the_limit_as_many_are_over_as_are_accepted():
    points = fitted_pool(300).points
    for risk in (0.01, 0.05, 0.3):
        kinds = Kinds.of(LENGTHS, 2.5, risk)
        age = limits_of_kinds(points, kinds, 0).age
        there = np.isfinite(age)
        assert fresh_lives(points, kinds).share_over(age[None])[0][there] == pytest.approx(risk, abs=1e-3)
        assert limits_of_kinds(points, kinds, np.where(there, age, 1.0)).today_share_over[there] == pytest.approx(
            risk, abs=1e-3
        )


def test_life_thrown_away_is_that_of_lives_summed_up_finely():
    lives = fresh_lives(fitted_pool(40).points, Kinds.of(LENGTHS))
    grid = np.linspace(0, HORIZON, 4001)
    within = 1 - lives.share_over(grid)
    for limit in (0.5, 3.0, 10.0):
        whole, rest = (
            np.trapezoid(within, grid, axis=0),
            np.trapezoid(within[grid >= limit], grid[grid >= limit], axis=0),
        )
        assert life_left(lives, np.full(4, limit), HORIZON) == pytest.approx(rest / whole, abs=2e-4)


def test_without_a_limit_today_nothing_is_said_of_it():
    found = limits_of_kinds(fitted_pool(300).points, Kinds.of([1.0, 2.0]), np.array([0.0, 3.0]))
    assert np.isnan([found.today_share_over[0], found.today_life_left[0], found.today_low[0]]).all()
    assert not np.isnan([found.today_share_over[1], found.today_life_left[1]]).any()


def test_a_limit_that_lies_beyond_forty_years_is_none():
    found = limits_of_kinds(fitted_pool(300).points, Kinds.of([0.6], limit_db=60.0), 3.0)
    assert found.age[0] == found.high[0] == np.inf
    assert found.today_share_over[0] < 1e-6


def true_limit(length_m, risk=0.05):
    """The age at which cables of `draw_pool` reach the risk: level 0.2 + 0.5 dB/m, rate 0.1 + 0.1 dB/m a year,
    standard deviations 0.1 and 0.05, wander 0.08 dB in a year; not settling."""
    from scipy.optimize import brentq
    from scipy.special import ndtri

    level, rate, z = 0.2 + 0.5 * length_m, 0.1 + 0.1 * length_m, ndtri(1 - risk)
    return brentq(lambda t: level + rate * t + z * np.sqrt(0.01 + 0.0025 * t**2 + 0.0064 * t) - 3, 0, 100)


def test_intervals_hold_the_true_limit_about_as_often_as_they_say():
    """Of 14 pools of 60 cables read five times at most."""
    held = []
    for seed in range(POOLS):
        pool = draw_pool(seed, 60, 6, 14)
        points = fit_pool_model(pool.readings, pool.length_m).model.points
        found = limits_of_kinds(points, Kinds.of([1.1, 2.1]), 3.0)
        held.append(
            [low <= true_limit(m) <= high for m, low, high in zip([1.1, 2.1], found.low, found.high, strict=True)]
        )
    # that 9 or fewer of 14 hold at 90 % is chance once in 100
    assert (np.sum(held, axis=0) >= 10).all()
