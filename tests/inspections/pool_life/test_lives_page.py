"""The page *How long cables last*: plain words first, the numbers one click below."""

from html import unescape

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_depot, set_policy_value
from life_data import drawn_pool
from life_pools import make_pool_of_lives
from page_words import words_in

from inspections.numeric.lives.records import Lives
from inspections.pool_life.group_services import pool_life

pytestmark = pytest.mark.django_db


def shown(client, query=""):
    page = client.get(f"/lives/{query}")
    assert page.status_code == 200
    return words_in(unescape(page.content.decode()))


def test_an_empty_pool_says_what_would_give_an_answer(keeper_client):
    text = shown(keeper_client)
    assert "Nothing shows yet how long cables last" in text
    assert "Measure cables whether or not anybody suspects them" in text


def test_the_answer_is_a_sentence_and_the_end_of_what_was_watched_is_said(visitor_client, today):
    make_pool_of_lives(drawn_pool(1, mats=12), today)
    text, life = shown(visitor_client), pool_life(today).whole.life
    months = [int(12 * age + 1e-6) for age in (life.ages_at[0.05].age, life.ages_at[0.05].low, life.ages_at[0.05].high)]
    years, rest = divmod(months[0], 12)
    when = f"{years} year{'s' * (years > 1)} {rest} month{'s' * (rest > 1)}"
    assert f"5 % are over after {when} ({months[1]} to {months[2]} months)" in text
    assert f"{life.failures} of {life.lives} cables that were read went over the limit." in text
    assert "No cable was watched beyond 3 years 5 months." in text


def test_few_that_went_over_are_said_to_be_few(keeper_client, today):
    make_pool_of_lives(Lives.of([2.9] * 60, np.inf, cluster=np.arange(60) // 4), today)
    text = shown(keeper_client)
    assert "0 of 60 cables that were read went over the limit: too few to say how long they last." in text
    # 0.05^(2.9^3/(60 · 2.9^3)): the worst shape at the end of what was watched is the steepest
    assert "But by 2 years 10 months at least 95 % are still within (95 % sure)." in text
    assert "Cables are changed at 3 years: nothing shows yet whether they would last longer." in text
    assert "not before" in text


def test_the_table_has_a_row_for_each_group_and_a_group_has_its_drawing(keeper_client, today):
    make_pool_of_lives(drawn_pool(1, mats=12, scale=6.0), today, length_m=0.6)
    make_pool_of_lives(drawn_pool(2, mats=12, scale=2.5), today, length_m=3.5)
    text = shown(keeper_client)
    assert "Cables from 3 to below 4 m go first: 5 % after" in text
    assert "Cables below 1 m last longest" in text
    response = keeper_client.get("/lives/?group=3")
    assert response.context["chosen"].name == 3
    assert "<h2>Cables from 3 to below 4 m</h2>" in response.content.decode()
    assert response.context["chart"].weibull
    # every age of the table lies on the drawing's own curve
    rows = response.context["rows"]
    assert [row[0] for row in rows] == [1.0, 2.0, 3.0]
    assert all(least <= most and low <= most and least <= high for _, least, most, low, high, *_ in rows)


def test_whatever_an_address_asks_shows_a_page(keeper_client, today):
    make_pool_of_lives(drawn_pool(1, mats=6), today)
    for query in (
        "?by=colour&clock=moons&group=99",
        "?by=design&clock=events",
        "?by=depot",
        "?group=%00",
        "?by=length&by=design",
    ):
        assert "How long cables last" in shown(keeper_client, query)


def test_depots_are_offered_where_there_are_several(keeper_client, today):
    make_pool_of_lives(drawn_pool(1, mats=6), today, depot=make_depot("Quay"))
    assert "Quay" not in shown(keeper_client, "?by=depot")
    make_pool_of_lives(drawn_pool(2, mats=6), today, depot=make_depot("Mill"))
    page = keeper_client.get("/lives/?by=depot").context["page"]
    assert [group.name for group in page.groups] == ["Mill", "Quay"]


def test_what_was_left_out_and_what_is_otherwise_is_said(keeper_client, today, keeper):
    make_pool_of_lives(drawn_pool(1, mats=6), today)
    make_pool_of_lives(drawn_pool(2, mats=6), today, reason="suspect")
    text = shown(keeper_client)
    assert "had no sample or routine reading that counts." in text
    assert "with readings that were taken because somebody suspected the cable" in text
    assert "By today’s limit of 3 years" in text
    set_policy_value("age_limit_years", 0, by=keeper, on=today, reason="tried")
    assert "By today’s limit" not in shown(keeper_client)


def test_the_number_of_queries_does_not_grow_with_the_pool(keeper_client, today):
    counts = []
    for seed in (1, 2):
        make_pool_of_lives(drawn_pool(seed, mats=3 * seed), today)
        keeper_client.get("/lives/?by=design")
        with CaptureQueriesContext(connection) as queries:
            keeper_client.get("/lives/?by=design")
        counts.append(len(queries))
    assert counts[0] == counts[1]
