"""The year of a mat on its page: marks that lead to their events, and the same in the table."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_event, make_mat, make_series, make_usage_event

pytestmark = pytest.mark.django_db


@pytest.fixture
def mat(today):
    return make_mat("M-017", fitted=True, fitted_on=today - timedelta(days=300))


def show(client):
    return " ".join(client.get("/mats/M-017/").content.decode().split())


def strip_of(client):
    return re.search(r"<svg[^>]*mat-year-title.*?</svg>", show(client)).group()


def rows_of_table(client):
    table = re.search(r'aria-label="Events of the months shown">.*?</table>', show(client)).group()
    return [re.sub(r"<[^>]+>", " ", row).split() for row in re.findall(r"<tr.*?</tr>", table)[1:]]


def test_each_mark_says_name_day_and_state_and_leads_to_its_event(visitor_client, mat, today):
    event = make_event(today - timedelta(days=40), name="Fen Half", code="E-7")
    make_usage_event(mat, event)
    said = f"Fen Half, {event.starts_on:%-d %b %Y}: went"
    assert f'<a href="/events/E-7/"><title>{said}</title>' in strip_of(visitor_client)


def test_all_four_states_are_counted_in_words(visitor_client, mat, today):
    for days, state in {-30: "went", -20: "went", -3: "planned", 4: "planned", -50: "called off"}.items():
        make_usage_event(mat, make_event(today + timedelta(days=days)), state)
    assert "2 went, 1 not confirmed, 1 planned, 1 called off." in strip_of(visitor_client)
    assert len(rows_of_table(visitor_client)) == 5


def test_loans_and_series_are_named_and_drawn(visitor_client, mat, today):
    loan = make_event(today - timedelta(days=90), 60, name="Lent")
    weekly = make_event(today + timedelta(days=2), name="Weekly", series=make_series())
    make_usage_event(mat, loan, counts_for=9, basis="reported")
    make_usage_event(mat, weekly, "planned")
    assert "counts for 9" in strip_of(visitor_client)
    assert "a loan</text>" in strip_of(visitor_client) and "one of a series</text>" in strip_of(visitor_client)
    rows = [" ".join(row) for row in rows_of_table(visitor_client)]
    assert "went, a loan 9" in rows[0] and "one of a series" in rows[1]


def test_a_mat_without_events_has_no_year(visitor_client, mat):
    assert "mat-year-title" not in show(visitor_client)


def test_queries_do_not_grow_with_the_year(visitor_client, mat, today):
    counts, made = [], 0
    visitor_client.get("/mats/M-017/")
    for size in (1, 3, 50):
        while made < size:
            made += 1
            make_usage_event(mat, make_event(today - timedelta(days=3 * made), series=make_series()))
        with CaptureQueriesContext(connection) as captured:
            assert visitor_client.get("/mats/M-017/").status_code == 200
        counts.append(len(captured))
    assert len(set(counts)) == 1
