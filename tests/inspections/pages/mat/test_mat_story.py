"""The story on a mat's page: the picture, its sentence and its table tell the same cables."""

import re
from datetime import timedelta

import pytest
from factories import fit, make_event, make_fault, make_mat, make_reading, make_segment, make_usage_event
from page_words import words_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def mat(today):
    return make_mat("M-017", fitted=True, fitted_on=today - timedelta(days=300))


def show(client):
    return client.get("/mats/M-017/")


def rows_of_table(answer):
    page = answer.content.decode()
    table = re.search(
        r'<table[^>]*aria-label="All cables of this mat since the first".*?</table>', page, re.DOTALL
    ).group()
    return [words_in(row) for row in re.findall(r"<tr.*?</tr>", table, re.DOTALL)[1:]]


def test_picture_sentence_and_table_tell_the_same_cables(visitor_client, mat, today):
    old = make_segment(0.6, "C-OLD")
    fit(old, mat, 1, today - timedelta(days=700), today - timedelta(days=300), removal_reason="nut turns")
    make_reading(old, None, today - timedelta(days=301))
    make_reading(mat.fittings.get(position=2).segment, 1.0, today - timedelta(days=5))
    answer = show(visitor_client)
    rows, chart = rows_of_table(answer), answer.context["desk"]
    assert len(rows) == chart.bars.count("M") == mat.fittings.count()
    assert [row for row in rows if "C-OLD" in row] == [row for row in rows if "nut turns" in row]
    assert "over" in rows[0] and "C-OLD" in rows[0]
    assert "current" in rows[1]
    assert (chart.over.count("M"), chart.within.count("M"), chart.ends.count("M")) == (1, 1, 1)
    assert "1 cable came out since" in words_in(answer.content.decode())


def test_void_readings_and_events_called_off_are_not_drawn(visitor_client, mat, today):
    make_reading(mat.fittings.get(position=1).segment, 9.0, today - timedelta(days=5), voided_on=today)
    make_usage_event(mat, make_event(today - timedelta(days=9)), "called off")
    make_usage_event(mat, make_event(today - timedelta(days=8)))
    make_fault(mat, "whole mat", None, today - timedelta(days=2))
    chart = show(visitor_client).context["desk"]
    assert (chart.over, chart.went.count("M"), chart.planned) == ("", 1, "")
    assert chart.faults.count("M") == 1


def test_each_picture_has_a_title_and_ids_of_its_own(visitor_client, mat):
    page = show(visitor_client).content.decode()
    assert len(re.findall(r'id="story-title-(?:desk|phone)"', page)) == 2
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))


def test_a_mat_that_never_held_a_cable_has_no_story(visitor_client, today):
    make_mat("M-017")
    assert "story-title" not in show(visitor_client).content.decode()
