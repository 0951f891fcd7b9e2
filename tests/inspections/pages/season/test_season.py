"""The season: mats against weeks, through HTTP."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, make_depot, make_design, make_event, make_fault, make_mat, make_segment, make_usage_event
from page_words import words_in

from inspections.assessment.services import assess_pool
from inspections.assessment.unfit import unfit_by
from inspections.pages.season.season_chart import LEFT, ROWS, WIDTH, season_chart
from inspections.pages.season.selectors import season

pytestmark = pytest.mark.django_db
THREE_YEARS = 3 * 365


def make_mat_of_age(number, today, days, depot=None):
    mat = make_mat(number, design=make_design(lengths_m=(0.6,)), depot=depot)
    fit(make_segment(), mat, 1, today - timedelta(days))
    return mat


@pytest.fixture
def monday(today):
    return today - timedelta(today.weekday())


@pytest.fixture
def pool(today, monday):
    """One that stays fit and goes twice, one due in some six weeks, one held back now, one that nobody plans."""
    depot = make_depot("Quay Street")
    fit_one, ageing = make_mat_of_age("M-1", today, 300, depot), make_mat_of_age("M-2", today, THREE_YEARS - 42, depot)
    wet, spare = make_mat_of_age("M-3", today, 300), make_mat_of_age("M-4", today, 300)
    make_fault(wet, "wet", None, reported_on=today)
    soon = make_event(monday + timedelta(weeks=2, days=5), days=2)
    late = make_event(monday + timedelta(weeks=10, days=6), days=3)
    for mat, event in ((fit_one, soon), (ageing, soon), (wet, soon), (fit_one, late), (ageing, late)):
        make_usage_event(mat, event, "planned")
    assess_pool(today)
    return fit_one, ageing, wet, spare


def test_it_tells_of_each_week_who_is_planned_and_how_many_are_fit(pool, today):
    ahead = season(today)
    planned = {mat.number: mat.planned for mat in ahead.mats}
    # the late one begins on a Sunday and ends on the Tuesday of the next week
    assert planned == {"M-1": (2, 10, 11), "M-2": (2, 10, 11), "M-3": (2,)}
    assert (ahead.others, ahead.needed[2], ahead.needed[10], ahead.needed[11]) == (1, 3, 2, 2)
    assert (ahead.fit[2], ahead.fit[10]) == (3, 2)
    assert {mat.number: mat.not_fit for mat in ahead.mats} == {"M-1": (), "M-2": (10, 11), "M-3": (2,)}


def test_a_mat_is_unfit_from_the_day_on_which_the_rule_of_the_other_pages_says_so(pool, today):
    for mat, row in zip(pool[:3], season(today).mats, strict=True):
        if row.unfit_from is None:
            assert not unfit_by([mat], today + timedelta(weeks=19))
        else:
            before = row.unfit_from - timedelta(1)
            assert unfit_by([mat], row.unfit_from) and (before < today or not unfit_by([mat], before))


def test_the_page_answers_in_a_sentence_and_in_tables(pool, visitor_client, monday):
    page = visitor_client.get("/season/").content.decode()
    words = words_in(page)
    assert "Enough mats are fit each week: at least 2, and at most 3 are planned." in words
    assert "In 3 weeks a planned mat is not fit" in words
    assert "1 planned mat is not" in words
    assert "1 mat, fit and not planned" in words
    assert page.count("#mark-cross") == 1 + 3 - 1
    rows = re.findall(r'data-name="planned">(\d+)</td><td role="cell" class="num" data-name="fit">(\d+)</td>', page)
    assert rows[2] == ("3", "3") and len(rows) == 20


def test_too_few_fit_mats_are_said_first(visitor_client, today):
    mats = [make_mat_of_age(number, today, 2_000) for number in ("M-1", "M-2")]
    event = make_event(today + timedelta(days=30))
    for mat in mats:
        make_usage_event(mat, event, "planned")
    assess_pool(today)
    assert "Too few mats are fit in 1 week, first in the week of" in words_in(
        visitor_client.get("/season/").content.decode()
    )


def test_every_mark_lies_in_the_drawing_and_a_depot_of_many_mats_goes_on_in_another(today):
    event = make_event(today + timedelta(weeks=3))
    for number in range(ROWS + 2):
        make_usage_event(make_mat(f"M-{number:03d}"), event, "planned")
    assess_pool(today)
    chart = season_chart(season(today))
    assert [len(each.rows) for each in chart.depots] == [ROWS, 2]
    for each in chart.depots:
        for row in each.rows:
            assert row.y < each.height
            assert all(LEFT <= x <= WIDTH - chart.mark for x in row.planned + row.not_fit)


def test_an_empty_pool_has_an_empty_season(visitor_client):
    assert "No event is planned in these weeks." in words_in(visitor_client.get("/season/").content.decode())


def test_queries_do_not_grow_with_mats_and_events(pool, visitor_client, today):
    def queries():
        with CaptureQueriesContext(connection) as captured:
            visitor_client.get("/season/")
        return len(captured)

    queries()
    few = queries()
    for number in range(5, 9):
        make_usage_event(make_mat_of_age(f"M-{number}", today, 2_000), make_event(today + timedelta(number)), "planned")
    assess_pool(today)
    queries()
    assert queries() == few
