"""Limits by length out of a pool's records: what is asked of each position, and what the records answer."""

import io
import json
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_design, make_mat, set_policy_value
from worn_pools import bench_day, make_pool

from inspections.length_limits.services import pool_limits
from inspections.models import Measurement
from inspections.numeric.words import Clock
from inspections.pool_life.cable_services import checks_of, read_cables
from inspections.pool_life.life_services import cable_lives
from inspections.pool_life.trend_services import agrees, model_of_day

pytestmark = pytest.mark.django_db

# after the last bench day of `worn_pools`
ON = date(2026, 10, 1)


def limits_on(on=ON):
    return pool_limits(on, on)


def test_an_empty_pool_has_no_limits():
    found = limits_on()
    assert (found.rows, found.has_fit, found.agreement, found.watched_until_years) == ((), False, None, 0.0)


def test_each_position_of_each_design_has_its_limit():
    codes = [mat.design.code for mat in make_pool(rate_db=0.9)]
    codes.append(make_design("other", lengths_m=(0.8, 2.4)).code)
    found = limits_on()
    assert {row.design.code for row in found.rows} == set(codes)
    assert [row.position for row in found.rows if row.design.code == "other"] == [1, 2]
    assert len(found.rows) == 3 * 4 + 2
    by_length = sorted(found.rows, key=lambda row: row.length_m)
    ages = [row.age for row in by_length]
    assert ages == sorted(ages, reverse=True)
    assert all(row.low <= row.age <= row.high for row in found.rows)
    assert {row.today for row in found.rows} == {3.0}
    assert by_length[0].today_share_over < by_length[-1].today_share_over


def test_limit_loss_and_risk_are_those_of_the_design_and_today_that_of_the_position(keeper):
    design = make_pool(rate_db=0.9)[0].design

    def rows():
        return [row for row in limits_on().rows if row.design == design]

    before = rows()
    change = {"by": keeper, "on": ON, "reason": "tried"}
    set_policy_value("loss_limit_db", 2.5, design=design, **change)
    strict = rows()
    assert all(row.age < was.age for row, was in zip(strict, before, strict=True))
    set_policy_value("accepted_risk", 0.2, design=design, **change)
    assert all(row.age > was.age for row, was in zip(rows(), strict, strict=True))
    set_policy_value("age_limit_years", 1.3, design=design, position=1, **change)
    set_policy_value("age_limit_years", 0, design=design, position=2, **change)
    first, second = rows()[:2]
    assert first.today == pytest.approx(15 / 12)
    assert second.today == 0
    assert np.isnan([second.today_share_over, second.today_life_left]).all()


def test_the_policy_takes_whole_months_rounded_down():
    make_pool(rate_db=0.9)
    for row in limits_on().rows:
        months = row.as_policy() * 12
        assert months == pytest.approx(round(months))
        assert 0 <= row.age * 12 - months < 1


def test_a_day_of_the_past_knows_only_what_was_read_by_then():
    make_pool(rate_db=0.9)
    past = bench_day(14)
    then = pool_limits(past, ON)
    Measurement.objects.filter(measured_on__gt=past).delete()
    assert [row.age for row in pool_limits(past, past).rows] == pytest.approx([row.age for row in then.rows], rel=0.02)
    assert then.watched_until_years < 1.3


def test_by_events_the_limits_count_events(keeper):
    make_pool(rate_db=0.9)
    set_policy_value("wear_by_events", 1, by=keeper, on=ON, reason="tried")
    found = limits_on()
    assert found.clock == Clock.EVENTS
    # nobody said how often these mats go, so that nothing tells wear by events
    assert (found.rows, found.has_fit) == ((), False)


def test_a_model_of_straight_wear_agrees_with_the_lives_of_straight_wear():
    make_pool(mats=12, rate_db=0.9, seed=11)
    found = limits_on()
    assert found.agreement.tells
    assert not found.agreement.disagrees
    assert found.agreement.low < 1 < found.agreement.high


def test_a_model_that_is_wrong_is_told_from_the_lives():
    make_pool(mats=12, rate_db=0.9, seed=11)
    cables = read_cables(ON)
    lives = cable_lives(cables, checks_of(cables), Clock.YEARS)
    longer = replace(cables, length_m=0.6 * cables.length_m)
    assert agrees(model_of_day(cables.state, ON, ON), longer, lives.lives, lives.row).disagrees


def test_the_number_of_queries_does_not_grow_with_the_pool():
    counts = []
    for seed in (1, 2):
        make_pool(mats=3 * seed, seed=seed)
        make_mat(design=make_design(f"design {seed}"))
        limits_on()
        with CaptureQueriesContext(connection) as queries:
            limits_on()
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_a_day_to_come_is_answered_too():
    make_pool(rate_db=0.9)
    assert len(pool_limits(ON + timedelta(400), ON).rows) == len(limits_on().rows)


def test_the_command_tells_a_pool_without_readings_that_it_has_no_trend():
    out = io.StringIO()
    call_command("rules", stdout=out)
    assert "There is no trend of the pool yet" in out.getvalue()
    out = io.StringIO()
    call_command("rules", "--format", "json", stdout=out)
    empty = json.loads(out.getvalue())
    assert (empty["rules"], empty["watched_until_years"], empty["agreement"]) == ([], None, None)
