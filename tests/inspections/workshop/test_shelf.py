"""The shelf: what lies there of each kind, and whether it is enough for what falls due."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, make_cable_type, make_depot, make_design, make_mat, make_pile, make_segment
from page_words import words_in

from inspections.assessment.services import assess_pool
from inspections.workshop.shelf_selectors import ShelfKind, shelf_kinds

pytestmark = pytest.mark.django_db
URL = "/shelf/"


@pytest.fixture
def thin():
    return make_cable_type("Fen 2.5")


@pytest.fixture
def pool(thin, today):
    """Two cables of 0.60 m due now by age and one in a month; one spare of these, and one of a kind nobody needs."""
    mat = make_mat("M-001", make_design(lengths_m=(0.6, 0.6, 0.6, 1.1), cable_type=thin))
    for position, days in ((1, 1200), (2, 1100), (3, 1070), (4, 50)):
        segment = make_segment(length_m=1.1 if position == 4 else 0.6, cable_type=thin)
        fit(segment, mat, position, today - timedelta(days=days))
    make_segment(0.6, "C-SPARE", cable_type=thin)
    make_segment(2.1, "C-OTHER", cable_type=thin)
    assess_pool(today)


def test_each_kind_says_what_lies_there_and_what_falls_due(pool, today):
    assert shelf_kinds(today, today + timedelta(days=90)) == [
        ShelfKind("Fen 2.5", 0.6, on_shelf=1, due_now=2, due_by=3, where=(("", 1),)),
        ShelfKind("Fen 2.5", 2.1, on_shelf=1, due_now=0, due_by=0, where=(("", 1),)),
    ]
    assert [kind.missing for kind in shelf_kinds(today, today + timedelta(days=90))] == [2, 0]


def test_cables_without_a_serial_lie_there_too(pool, thin, today):
    make_pile(thin, 0.6, make_depot("Quay Street"), 4)
    kind, _ = shelf_kinds(today, today + timedelta(days=90))
    assert (kind.on_shelf, kind.missing, kind.where) == (5, 0, (("Quay Street", 4), ("", 1)))


def test_the_page_counts_and_leads_to_the_cables_of_a_kind(visitor_client, pool):
    page = visitor_client.get(URL).content.decode()
    assert "2 cables on the shelf. 2 more are needed" in words_in(page)
    link = re.search(r'href="(/shelf/kinds/[^"]+)"', page)[1]
    listed = words_in(visitor_client.get(link).content.decode())
    assert "C-SPARE" in listed
    assert "C-OTHER" not in listed


def test_an_empty_pool_says_so(visitor_client):
    assert "Nothing lies on the shelf" in words_in(visitor_client.get(URL).content.decode())


def test_queries_do_not_grow_with_kinds(visitor_client, pool, thin):
    def asked():
        with CaptureQueriesContext(connection) as captured:
            assert visitor_client.get(URL).status_code == 200
        return len(captured)

    few = asked()
    for number in range(10):
        make_segment(length_m=3 + number / 10, cable_type=thin)
    assert asked() == few
