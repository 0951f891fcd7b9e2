"""/lives/cost/: what is missing, what is said, and the answers in words; the same through files and the command."""

import json

import pytest
from costed_pools import ON, SAID, make_costed_pool, say
from django.utils import timezone
from factories import make_design
from page_forms import form_in
from page_words import words_in
from pool_files import pool_files

from fleet.intake import FilesRefused
from inspections.assessment.policy_in_force import current_policy
from inspections.files.loading import load_pool_files
from inspections.models import PolicyValue
from inspections.rule_cost.report_services import costs_report
from inspections.rule_cost.services import rule_costs

pytestmark = pytest.mark.django_db
COST = "/lives/cost/"


@pytest.fixture
def on(monkeypatch):
    monkeypatch.setattr(timezone, "localdate", lambda *_: ON)
    return ON


def words(client):
    return words_in(client.get(COST).content.decode())


def save(client, **said):
    typed = {f"pool.{name}": value for name, value in said.items()}
    return client.post(COST, form_in(client.get(COST)) | typed, follow=True)


def test_an_empty_pool_says_what_it_lacks(keeper_client, on):
    report = costs_report(rule_costs(on, on))
    assert (report["not_known"], report["places"], report["more_a_year"]) == (list(SAID), [], None)
    said = words(keeper_client)
    assert "The readings do not make a trend of the pool".lower() in said.lower()
    assert "“Price of an hour of work”" in said


def test_the_keeper_says_what_things_cost_and_the_trail_shows_it(keeper_client, visitor_client):
    answer = save(keeper_client, **{name: str(value) for name, value in SAID.items()} | {"hour_price": "17,50"})
    assert "Saved. The costs go by it." in words_in(answer.content.decode())
    policy = current_policy()
    assert {name: policy.value(name) for name in SAID} == SAID | {"hour_price": 17.5}
    said = words(keeper_client)
    assert "Price of an hour of work of the pool not known → 17.50" in said
    assert "17.50" in words(visitor_client)
    assert save(visitor_client, hour_price="1").status_code == 403
    save(keeper_client, hour_price="")
    assert current_policy().value("hour_price") is None
    assert "17.50 → not known" in words(keeper_client)


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"event_cost_low": "50", "event_cost_high": "5"}, "at least 50 and at most 5"),
        ({"hour_price": "much"}, "Write a number, such as 1.5."),
        ({"minutes_per_change": "-1"}, "Work to change a cable"),
        ({"hour_price": "nan"}, "Write a number"),
        ({}, "Nothing was changed."),
    ],
)
def test_what_cannot_be_is_refused_with_what_was_typed(keeper_client, typed, told):
    answer = save(keeper_client, **typed)
    page = answer.content.decode()
    assert (answer.status_code, told in words_in(page)) == (422, True)
    assert all(f'value="{value}"' in page for value in typed.values())
    assert not PolicyValue.objects.exists()


def test_who_looked_earlier_is_told_what_somebody_else_said(keeper_client, keeper):
    say(keeper, hour_price=20)
    seen = form_in(keeper_client.get(COST))
    say(keeper, hour_price=22)
    late = keeper_client.post(COST, seen | {"pool.hour_price": "30"})
    assert late.status_code == 422
    assert "somebody else changed it meanwhile, to 22.00" in words_in(late.content.decode())
    assert current_policy().value("hour_price") == 22


def test_a_pool_of_which_all_is_known_is_answered_in_words(keeper_client, keeper, on):
    mats = make_costed_pool(keeper)
    other = make_design("unpriced one", lengths_m=(1.9,))
    said = words(keeper_client)
    page = rule_costs(on, on)
    assert f"for {page.cables} cables" in said
    assert f"No price is known of 1.9 m {other.positions.get().cable_type}" in said
    assert all(mat.design.code in said for mat in mats)
    assert "Limit today" in said
    assert "Cheapest is not safest" in said
    assert "beyond what was watched" in said
    assert "no cable was ever changed" in said.lower()


def test_the_report_says_the_same_to_programs(keeper, on):
    # no cable was changed yet, so that one that is found over costs as much as any other change
    make_costed_pool(keeper, event_cost_low=0)
    costs, page = json.loads(json.dumps(costs_report(rule_costs(on, on)), allow_nan=False)), rule_costs(on, on)
    assert costs["today_a_year"] == pytest.approx(page.today.tolist())
    assert costs["event_costs"] == [0, 50]
    assert [place["cheapest_at"] for place in costs["places"]] == [
        [None, pytest.approx(float(row.best.age[1]))] for row in page.rows
    ]
    assert costs["not_known"] == []
    assert min(costs["more_a_year"]) > 0


def test_costs_come_back_out_of_files_as_they_went_in(on):
    rows = "".join(f"{name},{value}\n" for name, value in SAID.items())
    load_pool_files(pool_files(policy=f"setting,value\n{rows}"), by=None, on=on)
    policy = current_policy()
    assert {name: policy.value(name) for name in SAID} == SAID


@pytest.mark.parametrize(
    ("stored", "rows", "place"),
    [
        ({}, "event_cost_low,9\nevent_cost_high,5\n", (2, "value", "at most what event_cost_high says, 5")),
        ({"event_cost_low": 9}, "event_cost_high,5\n", (2, "value", "at least what event_cost_low says, 9")),
        ({}, "hour_price,-1\n", (2, "value", None)),
        ({}, "hour_price,\n", (2, "value", None)),
    ],
)
def test_files_with_costs_that_cannot_be_are_refused(keeper, on, stored, rows, place):
    say(keeper, **stored)
    with pytest.raises(FilesRefused) as refusal:
        load_pool_files(pool_files(policy=f"setting,value\n{rows}"), by=None, on=on)
    (error,) = refusal.value.files.errors.in_order()
    assert (error.line, error.column) == place[:2]
    assert place[2] in (None, error.expected)
