"""Worlds drawn from a fit: as far apart as the readings leave open, by years and by events alike."""

from functools import cache

import numpy as np
import pytest
from plays_made import make_places

from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.lives.modelled import Kinds, fresh_lives
from inspections.numeric.pool_model import fit_pool_model
from inspections.numeric.rule_trial.plays import play
from inspections.numeric.rule_trial.predictions import Knowledge
from inspections.numeric.rule_trial.records import FixedRule, TrendRule
from inspections.numeric.rule_trial.worlds import drawn_worlds
from inspections.numeric.words import Clock

EVENTS = 40.0


@cache
def points_of(segments, clock=Clock.YEARS, seed=3):
    """PoolPoints of cables that start at 1.2 dB and wear by 0.4 dB a year, read four times in five years."""
    rng = np.random.default_rng(seed)
    segment, years = np.repeat(np.arange(segments), 4), np.tile([0.5, 1.7, 3.1, 4.6], segments)
    level, rate = (mean + sd * rng.standard_normal(segments) for mean, sd in ((1.2, 0.2), (0.4, 0.08)))
    loss_db = level[segment] + rate[segment] * years + 0.05 * rng.standard_normal(len(segment))
    x = years if clock == Clock.YEARS else EVENTS * years
    readings = FitReadings.of(segment, x, loss_db, day=np.tile(np.arange(4), segments), years=years)
    return fit_pool_model(readings, np.ones(segments), clock=clock)[0].points


def played(points, places, rule, by_years=True, **watched):
    worlds = drawn_worlds(points, places, by_years=by_years, draws=40, least_places=200, **watched)
    return play(rule, worlds, places, Knowledge.of(points, places, by_years=by_years))


def test_worlds_of_few_readings_lie_farther_apart():
    places = make_places(mats=5)
    few, many = (drawn_worlds(points_of(n), places, draws=60).fresh.rate.mean(axis=1) for n in (8, 400))
    assert few.std() > 3 * many.std()


def test_each_draw_has_enough_places_and_its_own_rate_of_damage():
    places = make_places(mats=5)
    worlds = drawn_worlds(points_of(8), places, draws=30, least_places=100, damaged=4, cable_years=100.0)
    assert worlds.shape == (30 * 6, 20)
    # Gamma(4.5) / 100, the same in all copies of a draw
    assert np.ptp(worlds.damage_a_year.reshape(30, 6), axis=1).max() == 0
    assert worlds.damage_a_year.mean() == pytest.approx(0.045, rel=0.25)
    assert (drawn_worlds(points_of(8), places, draws=30).damage_a_year == 0).all()


def test_what_is_over_on_the_whole_is_what_the_limits_by_length_say():
    points, places = points_of(400), make_places(mats=10)
    lives = fresh_lives(points, Kinds.of(1.0))
    ages = np.linspace(0.02, 5.98, 150)
    outcome = played(points, places, FixedRule(np.full(len(places), 6.0)))
    assert outcome.cable_share_over.mean() == pytest.approx(lives.share_over(ages).mean(), rel=0.05)


@pytest.mark.parametrize("rule", [FixedRule(np.full(40, 5.0)), TrendRule(12, 0.15)])
def test_wear_by_events_is_wear_by_years_where_all_mats_go_out_alike(rule):
    places = make_places(mats=10, events=EVENTS)
    by_events = make_places(mats=10, events=EVENTS, pace=EVENTS)
    years = played(points_of(400), places, rule)
    events = played(points_of(400, Clock.EVENTS), by_events, rule, by_years=False)
    assert events.changes.mean() == pytest.approx(years.changes.mean(), rel=0.06)
    assert events.cable_share_over.mean() == pytest.approx(years.cable_share_over.mean(), rel=0.3, abs=2e-3)


def test_a_mat_that_goes_nowhere_does_not_wear_by_events():
    places = make_places(mats=10, events=0.0, pace=0.0)
    outcome = played(points_of(400, Clock.EVENTS), places, TrendRule(24, 0.15), by_years=False)
    assert outcome.changes.max() == 0
    assert outcome.cable_share_over.max() == 0
