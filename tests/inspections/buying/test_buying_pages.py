"""Cables to buy over HTTP: the page, on paper, and the file for a spreadsheet."""

import csv
import io
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import fit, make_cable_type, make_design, make_mat, make_price, make_segment

from fleet.models import CableType, DesignPosition
from inspections.assessment.services import assess_pool

pytestmark = pytest.mark.django_db
PAGES = ("/buy/", "/buy/print/", "/buy/cables-to-buy.csv")


@pytest.fixture
def thin():
    return make_cable_type("thin", connector_feed="plug, straight", connector_element="=plug")


@pytest.fixture
def short(thin, today):
    """Two cables that fell due a year ago, of which one lies on the shelf."""
    design = make_design("one", lengths_m=(1.6,), cable_type=thin)
    for _ in range(2):
        fit(make_segment(1.6, cable_type=thin), make_mat(design=design), fitted_on=today - timedelta(days=1460))
    make_segment(1.6, cable_type=thin)
    return design


def words_of(answer):
    return " ".join(answer.content.decode().split())


def test_an_empty_pool_has_nothing_to_buy(visitor_client):
    assert "No cable is needed in the next twelve months." in words_of(visitor_client.get("/buy/"))
    assert "No cable is needed in the next twelve months." in words_of(visitor_client.get("/buy/print/"))


def test_the_page_says_what_to_buy_when_and_for_how_much(visitor_client, short, thin, today):
    make_price(thin, 1.6, "1234.50", lead_time_days=21, supplier_number="A-1.6")
    page = words_of(visitor_client.get("/buy/"))
    assert "2 cables are needed in the next twelve months. 1 of them is not on the shelf." in page
    assert "Order the first now" in page
    assert "It costs 1,234.50." in page
    assert "plug, straight – =plug" in page
    assert "no. A-1.6" in page
    assert f"{today:%B %Y}" in page


def test_a_keeper_is_led_from_a_kind_without_a_price_to_its_form_and_back(keeper_client, visitor_client, short):
    page = keeper_client.get("/buy/").content.decode()
    address = "/prices/add/?cable_type=thin&amp;length_m=1.6&amp;next=/buy/"
    assert address in page
    assert "No price is known." in page
    assert "/prices/add/" not in visitor_client.get("/buy/").content.decode()


def test_a_length_that_nobody_measured_is_measured_before_it_is_ordered(visitor_client, short):
    assert "Measure before you order" not in words_of(visitor_client.get("/buy/"))
    DesignPosition.objects.update(length_basis="estimated")
    for page in ("/buy/", "/buy/print/"):
        assert "Measure before you order" in words_of(visitor_client.get(page))


def test_a_type_that_is_made_no_more_asks_for_another_one(visitor_client, short, today):
    CableType.objects.update(withdrawn_on=today)
    assert "withdrawn: choose another type" in words_of(visitor_client.get("/buy/"))


def test_the_file_holds_what_the_order_needs_and_no_formula(visitor_client, short, thin, today):
    make_price(thin, 1.6, "12.50", lead_time_days=21, supplier_number="-A")
    answer = visitor_client.get("/buy/cables-to-buy.csv")
    assert answer["Content-Disposition"] == f'attachment; filename="cables-to-buy-{today}.csv"'
    (row,) = csv.DictReader(io.StringIO(answer.content.decode()))
    assert row == {
        "supplier_number": "'-A",
        "cable_type": "thin",
        "length_m": "1.6",
        "length_basis": "known",
        "connector_feed": "plug, straight",
        "connector_element": "'=plug",
        "design": "",
        "to_buy": "1",
        "price": "12.50",
        "cost": "12.50",
        "first_missing_on": f"{today}",
        "lead_time_days": "21",
        "buy_by": f"{today - timedelta(days=21)}",
        "to_buy_by_then": "1",
        "needed": "2",
        "on_work_orders": "0",
        "on_shelf": "1",
    }


def test_a_set_that_is_bought_has_its_own_row(visitor_client, short, thin):
    make_price(thin, 1.6, "12.50")
    make_price(design=short, price="10", supplier_number="S-1")
    (row,) = csv.DictReader(io.StringIO(visitor_client.get("/buy/cables-to-buy.csv").content.decode()))
    assert (row["design"], row["to_buy"], row["cost"], row["supplier_number"]) == ("one", "1", "10.00", "S-1")
    for page in ("/buy/", "/buy/print/"):
        assert "12.50 as single cables" in words_of(visitor_client.get(page))


@pytest.mark.parametrize("page", PAGES)
def test_a_page_takes_as_many_queries_for_many_kinds_as_for_one(visitor_client, short, thin, today, page):
    make_price(design=short, price="2")
    asked = []
    for more in (0, 12):
        for number in range(more):
            kind = make_cable_type()
            design = make_design(lengths_m=(0.5 + number / 10,), cable_type=kind)
            mat = make_mat(design=design, fitted=True, fitted_on=today - timedelta(days=1460))
            make_price(kind, 0.5 + number / 10, "3")
            make_price(design=mat.design, price="2")
        assess_pool(today)
        visitor_client.get(page)
        with CaptureQueriesContext(connection) as queries:
            assert visitor_client.get(page).status_code == 200
        asked.append(len(queries))
    assert asked[0] == asked[1]
