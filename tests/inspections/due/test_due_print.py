"""Until when will it last: the due list up to a day, the cables that this takes, and one page for each depot."""

import re
from datetime import timedelta

import pytest
from dateutil.relativedelta import relativedelta
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, make_cable_type, make_depot, make_design, make_mat, make_pile, make_segment
from page_words import words_in

from fleet.models import CableType
from fleet.selectors.shelf import shelf_near
from inspections.assessment.services import assess_pool
from inspections.due.needed import Needed, less_shelf
from inspections.templatetags.figures import short_day

pytestmark = pytest.mark.django_db


def make_cable(mat, position, due_on, length_m, cable_type):
    """Due by age on that day: three years after its fitting."""
    segment = make_segment(length_m, cable_type=cable_type)
    fit(segment, mat, position, due_on - relativedelta(years=3))
    return segment


@pytest.fixture
def pool(today):
    design, thin, thick = make_design(), make_cable_type("thin"), make_cable_type("thick")
    quay, mill = (
        make_mat(number, design=design, depot=make_depot(name))
        for number, name in (("M-001", "Quay Street"), ("M-002", "Upper Mill"))
    )
    make_cable(quay, 1, today - timedelta(days=3), 0.6, thin)
    make_cable(quay, 2, today + timedelta(days=40), 0.6, thin)
    make_cable(quay, 3, today + timedelta(days=40), 0.6, thick)
    make_cable(mill, 1, today + timedelta(days=41), 1.1, thin)
    make_cable(mill, 2, today + timedelta(days=200), 1.1, thin)
    assess_pool(today)
    return quay, mill


def text_of(response):
    return words_in(response.content.decode())


def needed(response):
    return [(kind.length_m, kind.cable_type, kind.counts) for kind in response.context["needed"]]


def test_up_to_a_named_day_the_cables_are_counted_by_length_and_type(visitor_client, pool, today):
    until = today + timedelta(days=40)
    response = visitor_client.get("/due/", {"until": f"{until}"})
    assert needed(response) == [(0.6, "thick", (0, 1)), (0.6, "thin", (1, 2))]
    assert response.context["needed_totals"] == [1, 3]
    assert f"Due by {short_day(until)}" in text_of(response)


def test_a_page_that_is_cut_off_says_where(visitor_client, pool, monkeypatch):
    assert "Only the first" not in text_of(visitor_client.get("/due/print/"))
    monkeypatch.setattr("inspections.due.views.MOST_ROWS", 2)
    assert "Only the 2 most urgent cables are here" in text_of(visitor_client.get("/due/print/"))


def test_a_number_of_days_does_the_same_and_the_last_day_is_in(visitor_client, pool):
    assert sum(counts[-1] for _, _, counts in needed(visitor_client.get("/due/", {"within": "41"}))) == 4
    assert sum(counts[-1] for _, _, counts in needed(visitor_client.get("/due/", {"within": "40"}))) == 3


def test_without_a_day_the_page_leads_to_what_the_look_ahead_takes(visitor_client, pool, today):
    page = visitor_client.get("/due/")
    until = today + timedelta(days=90)
    assert f"What is coming : month by month, and the cables needed by {short_day(until)}" in text_of(page)
    address = re.search(r'href="([^"]*until=[^"]*)"', page.content.decode()).group(1)
    assert visitor_client.get(f"/due/{address}").context["needed_totals"] == [1, 4]


def test_until_today_there_is_one_column(visitor_client, pool, today):
    response = visitor_client.get("/due/", {"until": f"{today}"})
    assert needed(response) == [(0.6, "thin", (1,))]


def test_the_filters_narrow_what_is_needed(visitor_client, pool):
    response = visitor_client.get("/due/", {"within": "300", "depot": "Upper Mill"})
    assert needed(response) == [(1.1, "thin", (0, 2))]


def test_each_depot_has_a_page_with_its_own_cables_and_what_they_take(visitor_client, pool, today):
    response = visitor_client.get("/due/print/", {"within": "300"})
    pages = response.context["depots"]
    assert [(page.depot.name, len(page.rows), page.totals) for page in pages] == [
        ("Quay Street", 3, [1, 3]),
        ("Upper Mill", 2, [0, 2]),
    ]
    page = response.content.decode()
    assert page.count('<section class="depot-page">') == 2
    assert page.index("Quay Street") < page.index("M-001") < page.index("Upper Mill") < page.index("M-002")


def test_what_lasts_says_so(visitor_client, pool, today):
    until = today - timedelta(days=400)
    assert "Nothing known is due by" in text_of(visitor_client.get("/due/print/", {"until": f"{until}"}))


@pytest.mark.parametrize("place", ["/due/", "/due/print/"])
def test_the_number_of_queries_does_not_grow_with_cables_or_depots(keeper_client, pool, today, place):
    def queries():
        assess_pool(today)
        with CaptureQueriesContext(connection) as asked:
            assert keeper_client.get(place, {"within": "300"}).status_code == 200
        return len(asked)

    few = queries()
    design, kind = make_design(), make_cable_type()
    for number in range(8):
        mat = make_mat(design=design, depot=make_depot())
        for position in (1, 2):
            make_cable(mat, position, today + timedelta(days=number), 0.6 + number, kind)
    assert queries() == few


# --- less the shelf


def test_what_lies_on_the_shelf_need_not_be_got(visitor_client, pool):
    make_pile(CableType.objects.get(name="thin"), 0.6, count=1)
    page = visitor_client.get("/due/", {"within": "41"})
    shelf = {(kind.length_m, kind.cable_type): (kind.on_shelf, kind.to_get) for kind in page.context["needed"]}
    assert shelf[0.6, "thin"] == (1, 1) and shelf[0.6, "thick"] == (0, 1)
    assert "1 on the shelf, 1 to get" in text_of(visitor_client.get("/due/print/", {"within": "41"}))


def test_a_depot_counts_what_lies_there_or_where_nobody_said(today):
    thin, quay, mill = make_cable_type("thin"), make_depot("Quay"), make_depot("Mill")
    for depot, count in ((quay, 2), (mill, 4), (None, 1)):
        make_pile(thin, 0.6, depot, count)
    assert shelf_near(quay, today) == {("thin", 0.6): 3}
    assert shelf_near(None, today) == {("thin", 0.6): 7}


def test_of_lengths_that_differ_by_a_hair_one_cable_serves_one():
    kinds = [Needed(0.6, "thin", (1,)), Needed(0.6003, "thin", (2,))]
    told = less_shelf(kinds, {("thin", 0.6): 2})
    assert [(kind.on_shelf, kind.to_get) for kind in told] == [(2, 0), (1, 1)]
