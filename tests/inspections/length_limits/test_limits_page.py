"""The page *Limits by length*: what to change first, what to leave longer, and the way into the policy."""

from datetime import date
from html import unescape

import pytest
from django.utils import timezone
from factories import set_policy_value
from page_forms import form_in
from page_words import words_in
from worn_pools import make_pool

from inspections.models import PolicyValue

pytestmark = pytest.mark.django_db
ON = date(2026, 10, 1)


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    monkeypatch.setattr(timezone, "localdate", lambda *_, **__: ON)


def shown(client):
    page = client.get("/lives/limits/")
    assert page.status_code == 200
    return page, words_in(unescape(page.content.decode()))


def test_a_pool_without_a_trend_is_told_what_to_measure(visitor_client):
    assert "No limit can be told yet" in shown(visitor_client)[1]
    assert "Measure at least five cables on two days each" in shown(visitor_client)[1]


def test_it_ends_in_change_these_first_and_leave_these_longer(visitor_client, keeper):
    design = make_pool(rate_db=0.5)[0].design
    page, text = shown(visitor_client)
    rows = page.context["page"].rows
    first = sorted(row.length_m for row in rows if row.age < 3)
    assert first
    assert f"Change these first: cables from {first[0]:g} m on reach 5 % over before their limit of today." in text
    last = max(row.length_m for row in rows if row.age > 3)
    assert f"Leave these longer: cables up to {last:g} m stay below it beyond their limit." in text
    assert "What would change" not in text
    assert f"<h2>{design}</h2>" in page.content.decode()
    set_policy_value("age_limit_years", 0, by=keeper, on=ON, reason="tried")
    assert "No limit is in force today" in shown(visitor_client)[1]


def test_the_keeper_sees_what_would_change_and_one_act_sets_them_with_its_trail(keeper_client):
    design = make_pool(rate_db=0.9)[0].design
    page, text = shown(keeper_client)
    found = next(each for each in page.context["designs"] if each.design == design)
    assert "What would change with these limits?" in text
    address = f"/policy/designs/{design.code}/{found.query}"
    proposed = keeper_client.get(address)
    assert "Not saved yet." in words_in(proposed.content.decode())
    assert proposed.context["preview"].points
    form = form_in(proposed) | {"reason": "limits by length"}
    assert keeper_client.post(f"/policy/designs/{design.code}/", form).status_code == 302
    limits = shown(keeper_client)[0].context["page"]
    kept = {row.position: row for row in limits.rows if row.design == design}
    for value in PolicyValue.objects.filter(design=design):
        assert value.reason == "limits by length"
        row = kept[value.position]
        assert row.today == pytest.approx(limits.proposal(row), abs=1e-6)
        assert row.today_share_over < 0.051
        assert row.today <= max(limits.watched_until, 3)
    again = next(each for each in shown(keeper_client)[0].context["designs"] if each.design == design)
    assert again.query == ""


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
    assert "What checks saw agrees with the trend: cables went over" in text
    wrong = page.context["page"].agreement.__class__(48, 3.0, 2.0, 4.0, 5.0, 1.0, 0.001)
    monkeypatch.setattr("inspections.length_limits.services.pool_agreement", lambda *_: wrong)
    text = shown(keeper_client)[1]
    assert "The trend does not agree with what checks saw: cables went over 3 times as often as the trend says" in text
    assert "Do not set limits by it before you know why." in text
