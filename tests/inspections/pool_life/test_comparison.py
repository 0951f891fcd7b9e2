"""How long fresh cables last as the trend says, beside what checks saw of them."""

from dataclasses import replace
from datetime import date, timedelta
from html import unescape

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from factories import make_event, make_reading, make_usage_event
from page_words import words_in
from worn_pools import make_pool

from fleet.models import CableSegment
from inspections.numeric.words import Clock
from inspections.pool_life.cable_services import checks_of, read_cables
from inspections.pool_life.group_services import pool_life
from inspections.pool_life.life_services import cable_lives
from inspections.pool_life.trend_services import agrees, kind_curves, model_of_day

pytestmark = pytest.mark.django_db
# after the last bench day of `worn_pools`
ON = date(2026, 10, 1)
AGES = np.linspace(0, 6, 13)


def test_the_curve_of_a_group_is_the_mean_of_its_cables():
    make_pool(rate_db=0.9)
    model, limit = model_of_day(read_cables(ON).state, ON, ON), np.full(3, 3.0)
    curves = kind_curves(model, np.array([1.0, 1.0, 3.0]), limit, AGES)
    short, both, long = (curves.of(np.array(rows)) for rows in ([0], [0, 1, 2], [2]))
    assert both.share == pytest.approx((2 * short.share + long.share) / 3)
    assert ((both.low <= both.share + 0.05) & (both.share <= both.high + 0.05)).all()
    assert kind_curves(None, limit, limit, AGES) is None
    early, late = long.age_at(0.05), short.age_at(0.05)
    assert early.low <= early.age <= early.high < late.age
    assert long.at(early.age)[0] == pytest.approx(0.05, abs=1e-6)


def test_the_trend_speaks_of_the_groups_that_the_checks_speak_of():
    make_pool(mats=6, rate_db=0.9)
    page = pool_life(ON)
    assert [row.key for row in page.by_trend.rows] == ["", *(group.key for group in page.groups)]
    over = [shares[0] for shares in page.by_trend.rows[-1].shares]
    assert over == sorted(over)
    early = [row.early.age for row in page.by_trend.rows[1:]]
    assert early == sorted(early, reverse=True)
    long = pool_life(ON, chosen=page.groups[-1].key)
    assert long.by_trend.of_chosen.lives == page.groups[-1].life.lives
    assert long.by_trend.agreement == page.by_trend.agreement
    # long cables wear faster than the pool
    assert long.by_trend.curve.share[-1] > page.by_trend.curve.share[-1]


def test_a_reading_near_the_limit_counts_by_its_side_and_the_page_says_what_sure_ones_say():
    mats = make_pool(mats=3, rate_db=0.2)
    cable = mats[0].fittings.first().segment
    make_reading(cable, 3.05, ON - timedelta(3))
    cables = read_cables(ON)
    sure, all_of_them = (cable_lives(cables, checks_of(cables, sure=sure), Clock.YEARS) for sure in (True, False))
    assert (sure.lives.failures, all_of_them.lives.failures) == (0, 1)
    page = pool_life(ON)
    assert page.whole.life.failures == 1
    assert [other.life.failures for other in page.otherwise if other.how == "sure"] == [0]


def test_by_events_the_trend_counts_events_whatever_the_keeper_counts():
    mats = make_pool(mats=3, rate_db=0.9)
    # the log of events begins before the cables came
    make_usage_event(mats[0], make_event(date(2024, 9, 1)))
    for month in range(24):
        event = make_event(date(2024, 10, 5) + timedelta(30 * month))
        for number, mat in enumerate(mats):
            if (month + number) % 3:
                make_usage_event(mat, event)
    page = pool_life(ON, Clock.EVENTS)
    assert page.by_trend is not None
    assert page.by_trend.curve.age[-1] > 10
    assert pool_life(ON).by_trend.curve.age[-1] < 5


def test_a_trend_that_is_wrong_is_told_from_the_lives():
    make_pool(mats=12, rate_db=0.9, seed=11)
    cables = read_cables(ON)
    found = cable_lives(cables, checks_of(cables), Clock.YEARS)
    model = model_of_day(cables.state, ON, ON)
    longer = replace(cables, length_m=0.6 * cables.length_m)
    assert not agrees(model, cables, found.lives, found.row).disagrees
    assert agrees(model, longer, found.lives, found.row).disagrees


def test_the_page_says_whether_the_trend_is_right_and_draws_it_beside_what_checks_saw(keeper_client, monkeypatch):
    make_pool(mats=12, rate_db=0.9, seed=11)
    monkeypatch.setattr(timezone, "localdate", lambda *_, **__: ON)
    response = keeper_client.get("/lives/")
    text = words_in(unescape(response.content.decode()))
    agreed = text.index("What checks saw does not contradict the trend, but shows little: 48 cables were checked")
    assert agreed < text.index("of fresh cables are over") < text.index("5 % over after", agreed)
    observed, beside, page = (response.context[name] for name in ("chart", "trend_chart", "page"))
    assert (observed.modelled, observed.weibull != "") == ("", True)
    assert all((beside.modelled, beside.modelled_edges, beside.least, beside.band))
    # straight wear: what the trend says lies in the band of what checks saw, or hardly beside it
    *_, low, high = page.whole.life.curve.at(page.ages[0])
    assert low - 0.05 <= page.by_trend.curve.at(page.ages[0])[0] <= high + 0.05
    wrong = replace(page.by_trend.agreement, times=1.1, low=0.9, high=1.2, more=1.0, late=-4.0, p_value=0.001)
    monkeypatch.setattr("inspections.pool_life.comparison_services.agrees", lambda *_: wrong)
    text = words_in(unescape(keeper_client.get("/lives/").content.decode()))
    assert "does not agree with what checks saw: the first cables go over sooner than it says, and the last" in text


def test_the_trend_is_not_made_anew_for_each_look():
    make_pool(rate_db=0.9)
    pool_life(ON)
    first = model_of_day(read_cables(ON).state, ON, ON, Clock.EVENTS), model_of_day(read_cables(ON).state, ON, ON)
    again = model_of_day(read_cables(ON).state, ON, ON, Clock.EVENTS), model_of_day(read_cables(ON).state, ON, ON)
    assert all(one is other for one, other in zip(first, again, strict=True))
    make_reading(CableSegment.objects.first(), 1.0, ON - timedelta(1))
    assert model_of_day(read_cables(ON).state, ON, ON) is not first[1]


def test_queries_do_not_grow_with_groups():
    counts = []
    for seed in (1, 2):
        make_pool(mats=3 * seed, seed=seed)
        pool_life(ON)
        with CaptureQueriesContext(connection) as queries:
            pool_life(ON)
        counts.append(len(queries))
    assert counts[0] == counts[1]
