"""The page *Rule against rule*: what each rule costs and leaves at risk, how far it is, and what it rests on."""

from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from factories import set_policy_value
from page_words import words_in
from trials_made import ON, RULES, make_used_pool, play_few
from worn_pools import make_pool

from inspections.numeric.rule_trial.answers import RuleAnswer, Spread
from inspections.rule_trial import services
from inspections.rule_trial.question_services import AGE, COUNT, LIMITS, TODAY, RuleName, trial_of_day
from inspections.rule_trial.trial_chart import trial_chart

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on_the_day(monkeypatch):
    monkeypatch.setattr(timezone, "localdate", lambda *_, **__: ON)
    play_few(monkeypatch)


def shown(client, query="", **headers):
    page = client.get(f"/lives/rules/{query}", **headers)
    assert page.status_code == 200
    return page, words_in(unescape(page.content.decode()))


def answers(page):
    return {name.words: answer for name, answer in page.context["found"].answers}


def test_a_pool_without_a_trend_is_told_what_to_measure(visitor_client):
    text = shown(visitor_client)[1]
    assert "no rule can be played" in text
    assert "Measure at least five cables on two days each" in text


def test_each_rule_is_played_on_the_pools_own_positions_at_their_own_use(visitor_client):
    make_used_pool(rate_db=0.9)
    page, text = shown(visitor_client)
    found = answers(page)
    assert list(found) == RULES
    assert {answer.events for answer in found.values()} == {3 * 11}
    # twelve positions, changed every three years; an event a month is far from 150 of them
    assert found["today’s limits"].cables.mean == pytest.approx(12 / 3, rel=0.1)
    assert found["150 events"].cables.mean == pytest.approx(12 / (150 / 11), rel=0.3)
    assert found["150 events"].events_over.mean > found["3 years"].events_over.mean
    assert found["limits by length"].events_over.mean < found["3 years"].events_over.mean
    assert found["trend, read every 6 months"].mats_checked == 6
    assert "Today’s limits take 4.1 (" in text or "Today’s limits take 4.0 (" in text
    assert "12 positions of 3 mats" in text


def test_rules_that_lie_together_in_the_picture_are_named_together():
    def answer(cables, events):
        none = Spread(0, 0, 0)
        return RuleAnswer(Spread(*cables), none, Spread(*events), 100.0, 0.0, 0.0, none, none)

    answers = [
        answer((100, 90, 110), (50, 40, 60)),
        answer((101, 91, 111), (50, 40, 60)),
        answer((20, 19, 21), (5, 0, 9)),
    ]
    names = [RuleName(TODAY), RuleName(AGE, 3.0), RuleName(LIMITS)]
    assert trial_chart(list(zip(names, answers, strict=True))[:1]) is None
    chart = trial_chart(list(zip(names, answers, strict=True)))
    assert [numbers for _, _, numbers in chart.labels] == ["1, 2", "3"]
    assert [point.is_today for point in chart.points] == [True, False, False]
    left, right, low = (point.x for point in chart.points)
    assert low < left < right
    assert chart.points[2].y > chart.points[0].y
    # no interval leaves the frame
    assert all(0 <= event <= 60 * 1.06 for _, event in chart.event_ticks)


def test_an_age_and_a_count_can_be_tried_and_what_cannot_is_said(visitor_client):
    make_used_pool(rate_db=0.9)
    page, _ = shown(visitor_client, "?age=1+year+6+months&events=22")
    found = answers(page)
    assert found["1 year 6 months"].cables.mean == pytest.approx(12 / 1.5, rel=0.1)
    assert found["22 events"].cables.mean == pytest.approx(12 / 2, rel=0.1)
    for query in ("?age=often", "?age=0", "?age=50", "?events=-3", "?events=nan", "?per_mat=1e9", "?events=1e400"):
        page, text = shown(visitor_client, query)
        assert "Left as it was: 1 field below needs correcting." in text
        assert list(answers(page)) == RULES


def test_hours_at_the_bench_stand_where_somebody_says_what_work_takes(visitor_client):
    make_used_pool(rate_db=0.9)
    page, text = shown(visitor_client)
    assert "Say below what a mat and a reading take at the bench" in text
    answer = answers(page)["trend, read every 12 months"]
    _, text = shown(visitor_client, "?per_mat=60&per_reading=30")
    assert f"{answer.mats_checked + answer.readings / 2:.0f} hours" in text
    assert "Say below" not in text


def test_while_rules_are_played_the_page_says_how_far_it_is_and_comes_back(visitor_client, monkeypatch):
    make_used_pool(rate_db=0.9)
    monkeypatch.setattr(services, "SECONDS_A_PAGE", -1.0)
    page, text = shown(visitor_client, "?age=2")
    assert "1 of 7 rules are played." in text
    assert '<noscript><meta http-equiv="refresh" content="0"></noscript>' in page.content.decode()
    part, text = shown(visitor_client, "?age=2", headers={"HX-Request": "true"})
    assert "2 of 7 rules are played." in text
    assert "<html" not in part.content.decode()
    for _ in range(5):
        page, text = shown(visitor_client, "?age=2")
    assert "of 7 rules" not in text
    assert "refresh" not in page.content.decode()
    assert list(answers(page)) == [RULES[0], "2 years", *RULES[2:]]


def test_the_same_records_give_the_same_answer_and_others_another(visitor_client):
    make_used_pool(rate_db=0.9)
    first = answers(shown(visitor_client)[0])
    services.forget()
    assert answers(shown(visitor_client)[0]) == first
    make_used_pool(rate_db=0.9, seed=9)
    assert answers(shown(visitor_client)[0]) != first


def test_todays_limits_are_those_of_each_position(keeper):
    mat = make_used_pool(rate_db=0.9)[0]
    change = {"by": keeper, "on": ON, "reason": "tried"}
    set_policy_value("age_limit_years", 1.5, design=mat.design, position=2, **change)
    set_policy_value("age_limit_years", 0, design=mat.design, position=3, **change)
    rules = {name.kind: rule for name, rule in trial_of_day(ON, ON).question.rules.items()}
    lives = rules[TODAY].life_years
    assert lives[:4].tolist() == pytest.approx([3, 1.5, 150 / 11, 3])
    assert set(rules[AGE].life_years) == {3.0}
    assert set(rules[COUNT].life_years) == {150 / 11}


def test_a_mat_that_went_nowhere_has_no_events_to_count(visitor_client):
    make_pool(rate_db=0.9)
    page, text = shown(visitor_client)
    assert "How often mats go is not on record" in text
    assert answers(page)["3 years"].events_over.mean == 0


def test_the_number_of_queries_does_not_grow_with_the_pool(visitor_client):
    counts = []
    for seed in (1, 2):
        make_used_pool(mats=3 * seed, seed=seed)
        shown(visitor_client)
        with CaptureQueriesContext(connection) as queries:
            shown(visitor_client)
        counts.append(len(queries))
    assert counts[0] == counts[1]
