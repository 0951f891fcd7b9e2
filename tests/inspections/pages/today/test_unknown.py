"""Cables of which nothing is known are work to do: the first page names them with three ways out."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, make_fault, make_mat, make_plain_design, make_plain_segment, make_reading, set_policy_value
from page_words import words_in

from inspections.assessment.services import assess_pool

pytestmark = pytest.mark.django_db


def mat_of_unknown_age(number, fitted_on, positions=2):
    mat = make_mat(number, design=make_plain_design(positions))
    for position in range(1, positions + 1):
        fit(make_plain_segment(), mat, position, fitted_on, fitted_basis="not later than")
    return mat


def page_of(client):
    return client.get("/").content.decode()


def text_of(client):
    return words_in(page_of(client))


def test_a_pool_of_which_nothing_is_known_is_not_told_that_nothing_needs_doing(keeper_client, today):
    mat_of_unknown_age("6", today)
    page = page_of(keeper_client)
    assert "2 cables of unknown age: find out, measure, or change." in words_in(page)
    assert "Nothing needs doing" not in page
    assert "unknown 2 cables in mat 6 Their age is not known; not measured." in words_in(page)
    for way_out in ("/fittings/when/?mat=6&amp;next=/", "/bench/6/", "/work-orders/raise/?mat=6"):
        assert f'href="{way_out}"' in page
        assert keeper_client.get(way_out.replace("&amp;", "&")).status_code == 200


def test_who_may_not_do_it_is_offered_no_way_out(bench_client, visitor_client, today):
    mat_of_unknown_age("6", today)
    assert "/fittings/when/" not in page_of(bench_client) and 'href="/bench/6/"' in page_of(bench_client)
    assert "2 cables of unknown age" in text_of(visitor_client)
    assert "/fittings/when/" not in page_of(visitor_client) and 'href="/bench/6/"' not in page_of(visitor_client)


def test_where_a_bench_asks_for_a_measurement_they_are_named_once_with_all_ways_out(keeper_client, today):
    mat_of_unknown_age("6", today - timedelta(days=400))
    text = text_of(keeper_client)
    assert "2 cables of unknown age: find out, measure, or change." in text
    assert "mat to measure" not in text


def test_those_certain_to_be_too_old_are_to_be_changed_and_no_longer_unknown(keeper_client, today):
    mat_of_unknown_age("6", today - timedelta(days=1200))
    assert "2 cables to change." in text_of(keeper_client)
    assert "unknown" not in text_of(keeper_client)


def test_one_fresh_reading_takes_a_cable_off_the_list(keeper_client, today):
    mat = mat_of_unknown_age("6", today - timedelta(days=100))
    make_reading(mat.fittings.get(position=1).segment, 0.5, today)
    assert "1 cable of unknown age: find out, measure, or change." in text_of(keeper_client)


def test_a_cable_of_known_age_without_any_limit_has_no_date(keeper_client, keeper, today):
    make_mat("6", fitted=True, fitted_on=today - timedelta(days=30))
    for setting in ("age_limit_years", "event_limit"):
        set_policy_value(setting, 0, by=keeper, on=today)
    text = text_of(keeper_client)
    assert "4 cables without a due date: measure, or change." in text
    assert "No limit and no reading gives a date; not measured." in text
    assert "/fittings/when/" not in page_of(keeper_client)


def test_the_answer_of_start_here_says_it_too(keeper_client, today):
    mat_of_unknown_age("6", today)
    page = keeper_client.get("/start/answer/").content.decode()
    assert "2 cables of unknown age: find out, measure, or change." in words_in(page)
    assert "The first cable is due on" not in page
    assert 'href="/fittings/when/?next=/start/answer/"' in page


def test_the_page_of_such_a_cable_leads_to_saying_when_it_was_fitted(keeper_client, keeper, today):
    mat = mat_of_unknown_age("6", today)
    set_policy_value("has_bench", 0, by=keeper, on=today)
    page = keeper_client.get(mat.fittings.first().segment.get_absolute_url()).content.decode()
    assert "When was it fitted? That would help most." in page
    assert "/fittings/when/?mat=6&amp;about=on" in page


def test_queries_do_not_grow_with_the_unknown_mats(keeper_client, today):
    counts = []
    for number in ("5", "6", "7"):
        mat_of_unknown_age(number, today)
        assess_pool(today)
        with CaptureQueriesContext(connection) as queries:
            assert f"2 cables in mat {number} Their age" in text_of(keeper_client)
        counts.append(len(queries))
    assert counts[1] == counts[2]


def test_the_page_of_the_mat_says_it_too(keeper_client, today):
    mat_of_unknown_age("6", today)
    page = keeper_client.get("/mats/6/").content.decode()
    said = "Nothing on record says that 2 of its cables are OK. Find out how old they are, or measure,"
    assert said in words_in(page) and "keeps it from going out" not in page
    assert 'href="/fittings/when/?mat=6"' in page


def test_a_single_cable_fitted_by_a_day_that_somebody_named_has_an_age_that_is_not_known(keeper_client, today):
    mat_of_unknown_age("6", today - timedelta(days=60), positions=1)
    assert "1 cable in mat 6 Its age is not known; not measured." in text_of(keeper_client)


def test_the_page_of_a_mat_says_first_what_must_be_done_then_what_else_is_unknown(keeper_client, today):
    mat = mat_of_unknown_age("6", today, positions=3)
    make_fault(mat, "cable", 1, reported_on=today)
    said = (
        "1 cable to change now: 1 broken or over. Do not send it out until this is done. "
        "Of 2 other cables nothing on record says that they are OK."
    )
    assert said in words_in(keeper_client.get("/mats/6/").content.decode())
