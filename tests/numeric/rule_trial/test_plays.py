"""Rules played on cables of which everything is known, against what renewal theory says of them."""

import numpy as np
import pytest
from plays_made import EVENTS, make_knowledge, make_places, make_worlds
from scipy.special import ndtr

from inspections.numeric.rule_trial.plays import play
from inspections.numeric.rule_trial.records import FixedRule, TrendRule


def played(rule, places=None, seed=1, **wear):
    places = places or make_places()
    worlds = make_worlds(places, **wear)
    return play(rule, worlds, places, make_knowledge(worlds), seed=seed)


def fixed(life, places=None):
    return FixedRule(np.full(len(places or make_places()), life))


def test_an_age_uses_a_cable_of_each_position_in_so_many_years():
    outcome = played(fixed(2.5))
    assert outcome.changes.mean() == pytest.approx(120 / 2.5, rel=0.005)
    assert (outcome.readings == 0).all()
    assert (outcome.mats_checked == 0).all()


def test_cables_alike_are_over_for_what_is_left_of_their_life():
    # each crosses at (3 - 1.2) / 0.4 = 4.5 years
    outcome = played(fixed(6.0))
    assert outcome.cable_share_over.mean() == pytest.approx(1.5 / 6, rel=0.02)
    assert outcome.late == pytest.approx(outcome.changes)
    # of four cables, at ages of their own, at least one is over
    assert outcome.events_over.mean() == pytest.approx(30 * EVENTS * (1 - 0.75**4), rel=0.02)
    assert played(fixed(4.4)).events_over.max() == 0


def test_the_share_over_is_the_mean_of_the_curve_up_to_the_age():
    # level and rate differ, and losses wander; rates fall in one of a million
    wear = {"sd_level": 0.2, "sd_rate": 0.08, "q": 0.02}
    outcome, ages = played(fixed(4.0), **wear), np.linspace(0, 4, 4001)
    sd = np.sqrt(0.2**2 + 0.08**2 * ages**2 + 0.02 * ages)
    assert outcome.cable_share_over.mean() == pytest.approx(ndtr((1.2 + 0.4 * ages - 3) / sd).mean(), rel=0.05)
    late = ndtr((1.2 + 0.4 * 4 - 3) / sd[-1])
    assert (outcome.late / outcome.changes).mean() == pytest.approx(late, rel=0.05)


def test_damage_takes_cables_out_before_their_age():
    # renewals at rate d / (1 - exp(-d life)), from memory: the mean of the shorter of an exponential time and the life
    outcome = played(fixed(4.0), damage=0.1)
    assert outcome.changes.mean() == pytest.approx(120 * 0.1 / -np.expm1(-0.4), rel=0.01)
    # what is damaged is not taken out by the rule
    assert (played(fixed(6.0), damage=0.1).late < played(fixed(6.0), damage=0.1).changes).all()


def test_without_any_rule_only_damage_takes_cables_out():
    outcome = played(fixed(np.inf), damage=0.2)
    assert outcome.changes.mean() == pytest.approx(120 * 0.2, rel=0.02)
    # but for the few that come to the end of what is looked at
    assert outcome.late.mean() < 0.01 * outcome.changes.mean()


def test_mats_that_go_nowhere_risk_no_event():
    places = make_places(events=0.0)
    assert (played(fixed(6.0), places).events_over == 0).all()


@pytest.mark.parametrize("months", [6, 12, 24])
def test_who_knows_nearly_all_changes_cables_just_before_they_are_over(months):
    outcome = played(TrendRule(months, 0.05), sd_rate=0.08, sigma=0.01)
    rates = np.maximum(0.4 + 0.08 * np.random.default_rng(3).standard_normal(100_000), 0.05)
    # renewal reward: as many cables as places, in the mean time to the limit
    assert outcome.changes.mean() == pytest.approx(120 / (1.8 / rates).mean(), rel=0.06)
    assert (outcome.late / outcome.changes).mean() < 0.08
    assert outcome.readings.mean() == pytest.approx(120 * 12 / months + outcome.changes.mean(), rel=0.06)
    assert outcome.mats_checked.mean() == pytest.approx(30 * 12 / months, rel=0.01)


def test_the_trend_keeps_the_accepted_risk_with_noisy_benches_too():
    noisy = {"sd_level": 0.2, "sd_rate": 0.1, "q": 0.01, "sigma": 0.1}
    outcome = played(TrendRule(12, 0.15), **noisy)
    assert 0.01 < (outcome.late / outcome.changes).mean() < 0.08
    # and needs fewer cables than the age that keeps it
    ages = np.linspace(0.5, 5, 451)
    sd = np.sqrt(0.2**2 + 0.1**2 * ages**2 + 0.01 * ages)
    age = ages[np.argmax(ndtr((1.2 + 0.4 * ages - 3) / sd) >= 0.05)]
    assert outcome.changes.mean() < 0.95 * 120 / age


def test_the_same_is_played_again_to_the_same_numbers():
    first, again, other = (played(TrendRule(12, 0.15), sd_rate=0.1, seed=seed) for seed in (1, 1, 2))
    assert (first.changes == again.changes).all()
    assert (first.events_over == again.events_over).all()
    assert (first.changes != other.changes).any()


def test_some_mats_stand_for_many():
    places = make_places(mats=1000, positions=8)
    rows, times = places.some_of_many(800)
    some = places.take(rows)
    assert (some.mats, len(some), times) == (100, 800, 10.0)
    assert (np.bincount(some.mat) == 8).all()
    rows, times = make_places(mats=3).some_of_many(800)
    assert (len(rows), times) == (12, 1.0)
