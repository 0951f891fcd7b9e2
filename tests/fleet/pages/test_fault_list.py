"""The faults of all mats on one page: open ones first asked for, and each one click from being closed."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_depot, make_fault, make_mat
from page_words import words_in

URL = "/faults/"


@pytest.fixture
def faults(today):
    quay, mill = make_mat("M-001", depot=make_depot("Quay")), make_mat("M-002", depot=make_depot("Mill"))
    return [
        make_fault(quay, place="cable", position=2, reported_on=today - timedelta(days=3), what="crushed by a wheel"),
        make_fault(mill, place="wet", reported_on=today),
        make_fault(
            quay,
            place="cover or fold",
            reported_on=today - timedelta(days=30),
            ended_on=today - timedelta(days=20),
            end_reason="repair",
        ),
    ]


def rows(client, **asked):
    """[the words of each row]."""
    page = client.get(URL, asked).content.decode()
    (body,) = re.findall(r"<tbody.*?</tbody>", page, re.DOTALL) or [""]
    return [words_in(row) for row in re.findall(r"<tr.*?</tr>", body, re.DOTALL)]


def test_open_faults_stand_newest_first_with_what_follows_of_each(visitor_client, faults):
    wet, cable = rows(visitor_client)
    assert "M-002" in wet and "Wet" in wet and "holds the mat back" in wet
    assert "M-001" in cable and "Cable, position 2" in cable and "change the cable" in cable
    assert "crushed by a wheel" in cable


def test_closed_ones_are_one_choice_away(visitor_client, faults):
    (closed,) = rows(visitor_client, state="closed")
    assert "Cover or fold" in closed and ": repair" in closed
    assert len(rows(visitor_client, state="all")) == 3
    (of_mill,) = rows(visitor_client, depot="Mill")
    assert "M-002" in of_mill


def test_a_mat_that_is_withdrawn_has_no_fault_to_see_to(visitor_client, faults, today):
    mat = faults[1].mat
    mat.withdrawn_on, mat.withdrawal_reason = today, "worn out"
    mat.save()
    assert len(rows(visitor_client)) == 1


def test_who_measures_closes_and_comes_back_here(bench_client, log_client, visitor_client, faults):
    page = bench_client.get(URL).content.decode()
    links = re.findall(r'href="(/faults/\d+/end/[^"]+)"', page)
    assert links == [f"/faults/{fault.pk}/end/?next={URL}" for fault in (faults[1], faults[0])]
    assert bench_client.get(links[0]).status_code == 200
    (dries,) = re.findall(r'href="(/faults/\d+/end/[^"]+)"', log_client.get(URL).content.decode())
    assert dries == links[0]
    assert log_client.get(dries).status_code == 200
    assert "/end/" not in visitor_client.get(URL).content.decode()


def test_no_fault_says_where_to_report_one(visitor_client):
    assert "No fault is open." in words_in(visitor_client.get(URL).content.decode())


def test_queries_do_not_grow_with_faults(keeper_client, faults, today):
    def asked():
        with CaptureQueriesContext(connection) as captured:
            assert keeper_client.get(URL).status_code == 200
        return len(captured)

    few = asked()
    for _ in range(8):
        make_fault(make_mat(depot=make_depot()), place="wet", reported_on=today)
    assert asked() == few


@pytest.mark.parametrize("asked", [{"state": "none"}, {"depot": "Nowhere"}, {"page": "x"}, {"sort": "nothing"}])
def test_whatever_is_asked_the_page_answers(visitor_client, faults, asked):
    assert visitor_client.get(URL, asked).status_code in (200, 404)
