"""The page *Limits by length*: what to change first, what to leave longer, and the way into the policy."""

import re
from dataclasses import replace
from datetime import date, timedelta
from html import unescape

import numpy as np
import pytest
from django.utils import timezone
from factories import make_event, make_usage_event, set_policy_value
from page_words import words_in
from worn_pools import FITTED_ON, make_pool

from inspections.templatetags.life_text import age_in_words, age_with_interval
from inspections.templatetags.limit_text import to_do

pytestmark = pytest.mark.django_db
ON = date(2026, 10, 1)


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    monkeypatch.setattr(timezone, "localdate", lambda *_, **__: ON)


def shown(client, query=""):
    page = client.get(f"/lives/limits/{query}")
    assert page.status_code == 200
    return page, words_in(unescape(page.content.decode()))


def test_a_pool_without_a_trend_is_told_what_to_measure(visitor_client):
    assert "No limit can be told yet" in shown(visitor_client)[1]
    assert "Measure at least five cables on two days each" in shown(visitor_client)[1]


def test_each_page_on_how_long_cables_last_leads_to_the_others(visitor_client):
    line = re.compile(r'<nav class="path life-pages screen".*?</nav>', re.DOTALL)
    places = re.findall(r'href="([^"]+)"', line.search(visitor_client.get("/lives/").content.decode())[0])
    assert places == ["/lives/", "/lives/limits/", "/lives/rules/", "/lives/cost/", "/lives/card/"]
    for place in places:
        links = line.search(visitor_client.get(place).content.decode())[0]
        assert re.findall(r'href="([^"]+)"', links) == places
        assert re.findall(r'href="([^"]+)" aria-current="page"', links) == [place]


def test_it_ends_in_change_these_first_and_leave_these_longer(visitor_client, keeper):
    design = make_pool(rate_db=0.5)[0].design
    page, text = shown(visitor_client)
    rows = page.context["page"].rows
    first, last = min(row.length_m for row in rows if row.age < 3), max(row.length_m for row in rows if row.age > 3.1)
    assert f"Change these first: cables from {first:g} m on. More than 5 % are over before their limit." in text
    assert f"Leave these longer: cables up to {last:g} m. Fewer than 5 % are over by their limit." in text
    assert f"<h2>{design}</h2>" in page.content.decode()
    end = text.rpartition("What to do")[2]
    long_one = next(row for row in rows if row.design == design and row.length_m == 2.1)
    assert f"{design}, 2.1 m (position 4): {age_in_words(long_one.age, 'years')} in place of 3 years." in end
    shorter = sorted(row.length_m for row in rows if row.design == design and row.may_stay)
    assert 1 <= len(shorter) <= 2
    assert f"{design}: {' and '.join(f'{m:g}' for m in shorter)} m." in end
    assert "The keeper puts limits into the policy." in end
    assert "Use these limits" not in text
    set_policy_value("age_limit_years", 0, by=keeper, on=ON, reason="tried")
    assert "No limit is in force today" in shown(visitor_client)[1]


def test_each_number_with_its_interval_and_what_was_seen_is_one_click_below(visitor_client):
    make_pool(mats=2, rate_db=0.9)
    page, text = shown(visitor_client)
    rows = page.context["page"].rows
    for each in page.context["designs"]:
        assert [group.positions for group in each.groups] == [(4,), (3,), (2,), (1,)]
    for row in rows:
        assert age_with_interval(row, "years") in text.partition("The numbers, how sure they are")[2]
    # watched for two years; the longest two were over by their limit, the short ones last for longer
    by_length = {row.length_m: row for row in rows}
    assert [by_length[m].read for m in (0.6, 1.1, 1.6, 2.1)] == [2, 2, 2, 2]
    # of the short ones those were seen, too, that are longer and were over before
    assert (by_length[2.1].seen, by_length[0.6].seen) == (2, 4)
    assert by_length[0.6].watched_until == pytest.approx(1.91, abs=0.02)
    assert "none; watched until 1 year 10 months" in text


def test_use_may_be_counted_in_events(visitor_client):
    mats = make_pool(mats=3, rate_db=0.9)
    text = shown(visitor_client, "?clock=events")[1]
    assert "No limit can be told yet" in text
    assert "Tell how often each mat goes" in text
    for number, mat in enumerate(mats):
        for week in range(30):
            make_usage_event(mat, make_event(FITTED_ON + timedelta((20 + 5 * number) * week % 700)))
    page, text = shown(visitor_client, "?clock=events")
    assert "Limit today" in text
    assert {row.today for row in page.context["page"].rows} == {150}
    assert f"{age_in_words(page.context['page'].rows[3].age, 'events')} in place of 150 events." in text
    assert shown(visitor_client, "?clock=moons")[0].context["page"].clock == "years"


def test_a_position_that_is_over_almost_from_new_is_told_to_need_another_cable(visitor_client):
    make_pool(rate_db=0.9)
    page = shown(visitor_client)[0].context["page"]
    row = replace(page.rows[0], age=0.05, low=0.01, high=0.1)
    assert to_do(row, page) == "Change first. No limit helps: they are over almost from new."
    assert page.proposal(row) is None
    assert to_do(replace(row, age=np.nan), page) == "Look at the trend first."


def test_nothing_beyond_what_was_watched_is_proposed(keeper_client):
    make_pool(rate_db=0.1)
    page, text = shown(keeper_client)
    limits = page.context["page"]
    assert any(row.age > 5 for row in limits.rows)
    assert all(limits.proposal(row) <= max(limits.watched_until, 3) + 1e-9 for row in limits.rows)
    assert "beyond what was watched" in text
    assert "No cable was watched beyond 1 year 10 months." in text


def test_it_says_whether_the_trend_can_be_trusted(keeper_client, monkeypatch):
    make_pool(mats=12, rate_db=0.9, seed=11)
    page, text = shown(keeper_client)
    assert "does not contradict the trend, but shows little: 48 cables were checked, and went over" in text
    wrong = page.context["page"].agreement.__class__(48, 3.0, 2.0, 4.0, 5.0, 1.0, 0.001)
    monkeypatch.setattr("inspections.length_limits.services.agrees", lambda *_: wrong)
    text = shown(keeper_client)[1]
    assert "does not agree with what checks saw: cables went over 3 times as often as it says" in text
    assert "Do not go by its numbers before you know why" in text
