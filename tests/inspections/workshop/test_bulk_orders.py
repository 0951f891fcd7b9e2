"""Work orders for all that is due of a depot in one go, and several orders printed as one document."""

import re
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import make_cable_type, make_depot, make_design, make_fault, make_mat, make_segment
from page_forms import form_in
from page_words import words_in

from inspections.assessment.services import assess_pool
from inspections.models import WorkOrder, WorkOrderLine
from inspections.workshop.bulk_selectors import all_due
from inspections.workshop.bulk_services import raise_all_due
from inspections.workshop.services import raise_work_orders, renew_work_order, withdraw_work_order

pytestmark = pytest.mark.django_db
PAGE = "/work-orders/raise/all/"
OLD = timedelta(days=1200)


@pytest.fixture
def quay():
    return make_depot("Quay")


@pytest.fixture
def design():
    return make_design(lengths_m=[0.6, 1.1], cable_type=make_cable_type("thin"))


@pytest.fixture
def pool(quay, design, today):
    """Two old mats at the quay, one of them with a cable on an order; an old one elsewhere; a young one at the quay."""
    mats = [
        make_mat("M-1", design, fitted=True, fitted_on=today - OLD, depot=quay),
        make_mat("M-2", design, fitted=True, fitted_on=today - OLD, depot=quay),
        make_mat("M-3", design, fitted=True, fitted_on=today - OLD, depot=make_depot("Mill")),
        make_mat("M-4", design, fitted=True, fitted_on=today - timedelta(days=9), depot=quay),
    ]
    assess_pool(today)
    raise_work_orders([mats[1].fittings.get(position=1).segment_id], by=None, on=today)
    return mats


def page_of(client, address, status=200):
    answer = client.get(address)
    assert answer.status_code == status
    return answer.content.decode()


def lines_of(mat):
    return sorted(WorkOrderLine.objects.filter(work_order__mat=mat).values_list("work_order__number", "position"))


def test_the_page_says_first_what_will_be_raised_and_what_is_left_out(bench_client, pool):
    text = words_in(page_of(bench_client, f"{PAGE}?depot=Quay"))
    assert "2 mats, 3 cables: each mat gets one order. 1 cable stands on an order already and is left out." in text
    assert "1 cable on W-" in text and "M-3" not in text and "M-4" not in text
    assert WorkOrder.objects.count() == 1


def test_it_raises_an_order_for_each_mat_of_the_depot_and_no_other(bench_client, pool, today):
    form = form_in(bench_client.get(f"{PAGE}?depot=Quay"))
    assert form["depot"] == "Quay"
    answer = bench_client.post(PAGE, form | {"given_to": "Tam", "planned_on": today.isoformat()})
    assert answer.url == "/work-orders/?state=to+do&depot=Quay"
    assert "Raised: 2 work orders for 3 cables." in words_in(page_of(bench_client, answer.url))
    assert [len(lines_of(mat)) for mat in pool] == [2, 2, 0, 0]
    assert {order.given_to for order in WorkOrder.objects.order_by("number")[1:]} == {"Tam"}


def test_without_a_depot_it_raises_those_of_all(bench_client, pool):
    assert bench_client.post(PAGE, form_in(bench_client.get(PAGE))).url == "/work-orders/?state=to+do"
    assert [len(lines_of(mat)) for mat in pool] == [2, 2, 2, 0]


def test_sent_twice_it_acts_once(bench_client, pool):
    form = form_in(bench_client.get(PAGE))
    first, again = bench_client.post(PAGE, form), bench_client.post(PAGE, form)
    assert (again.status_code, again.url) == (302, first.url)
    assert WorkOrder.objects.count() == 4


def test_what_changed_meanwhile_raises_nothing_and_shows_the_numbers_anew(bench_client, pool, today):
    form = form_in(bench_client.get(PAGE))
    raise_work_orders(pool[0].fittings.values_list("segment", flat=True), by=None, on=today)
    answer = bench_client.post(PAGE, form | {"given_to": "Tam"})
    text = answer.content.decode()
    assert answer.status_code == 422 and "What is due changed meanwhile." in text and 'value="Tam"' in text
    assert "3 cables stand on an order already and are left out." in words_in(text)
    assert WorkOrder.objects.count() == 2
    assert bench_client.post(PAGE, form_in(answer)).status_code == 302
    assert WorkOrder.objects.count() == 4


def test_an_order_that_is_out_of_date_holds_nothing_back(bench_client, pool, today):
    WorkOrder.objects.update(raised_on=today - timedelta(days=31))
    assert "2 mats, 4 cables" in words_in(page_of(bench_client, f"{PAGE}?depot=Quay"))
    bench_client.post(PAGE, form_in(bench_client.get(f"{PAGE}?depot=Quay")))
    assert WorkOrderLine.objects.filter(is_open=True).count() == 4


def test_where_all_stands_on_orders_nothing_is_offered(bench_client, pool):
    bench_client.post(PAGE, form_in(bench_client.get(PAGE)))
    page = page_of(bench_client, PAGE)
    assert "No order would be raised. 6 cables stand on an order already and are left out." in words_in(page)
    assert 'name="seen"' not in page


@pytest.mark.parametrize("depot", ["Nowhere", "\0", "'; --"])
def test_an_unknown_depot_is_named_and_raises_nothing(bench_client, pool, depot):
    said = f"There is no depot {depot}." if depot == "Nowhere" else "form-errors"
    assert said in bench_client.get(PAGE, {"depot": depot}).content.decode()
    form = form_in(bench_client.get(PAGE))
    answer = bench_client.post(PAGE, form | {"depot": depot})
    assert answer.status_code == 422 and said in answer.content.decode()
    assert WorkOrder.objects.count() == 1


@pytest.mark.parametrize("wrong", [{"planned_on": "some day"}, {"seen": ""}, {"seen": "x" * 9000}, {"token": "no"}])
def test_a_form_that_is_not_right_raises_nothing_and_keeps_what_was_typed(bench_client, pool, wrong):
    form = form_in(bench_client.get(PAGE)) | {"given_to": "Tam"} | wrong
    answer = bench_client.post(PAGE, form)
    assert answer.status_code == 422 and 'value="Tam"' in answer.content.decode()
    assert WorkOrder.objects.count() == 1


def test_a_refusal_in_the_middle_raises_none(pool, today, monkeypatch):
    seen = all_due(None, today).mark
    with pytest.raises(ValidationError):
        raise_all_due(None, by=None, on=today, seen=seen, given_to="x" * 500)
    assert WorkOrder.objects.count() == 1


def test_the_due_list_leads_there_with_its_depot(bench_client, visitor_client, pool):
    assert f'href="{PAGE}"' in page_of(bench_client, "/due/")
    assert f'href="{PAGE}?depot=Quay"' in page_of(bench_client, "/due/?depot=Quay")
    assert PAGE not in page_of(visitor_client, "/due/")


# --- several orders as one document


def print_page(client, **asked):
    answer = client.get("/work-orders/print/", asked)
    assert answer.status_code == 200
    return answer.content.decode()


def orders_in(page):
    return re.findall(r"<h1>Work order (\S+):", page)


@pytest.fixture
def orders(pool, today):
    raise_all_due(None, by=None, on=today, seen=all_due(None, today).mark)
    return {str(order): order for order in WorkOrder.objects.order_by("mat__depot__name", "mat__number", "number")}


def test_all_orders_in_force_of_a_depot_are_one_document(visitor_client, orders, pool, today):
    by_depot = [name for name, order in orders.items() if str(order.mat.depot) == "Quay"]
    assert orders_in(print_page(visitor_client, depot="Quay")) == by_depot and len(by_depot) == 3
    assert orders_in(print_page(visitor_client)) == list(orders)
    assert orders_in(print_page(visitor_client, order=by_depot[:2])) == by_depot[:2]


def test_parts_are_counted_over_all_orders_beside_what_is_on_the_shelf(visitor_client, orders, design):
    make_segment(1.1, "S-1", cable_type=design.positions.get(number=2).cable_type)
    make_segment(1.1, "S-2", cable_type=make_cable_type("thick"))
    text = words_in(print_page(visitor_client))
    assert "4 work orders, 6 cables to change" in text
    assert re.search(r"thin 0\.60 3 0 3 thin 1\.10 3 1 2 ", text)
    assert "5 are missing." in text


def test_a_line_that_is_answered_asks_for_no_part(visitor_client, orders):
    order = next(iter(orders.values()))
    order.lines.filter(position=1).update(left_reason="no spare", is_open=False)
    text = words_in(print_page(visitor_client, order=[str(order)]))
    assert "1 work order, 1 cable to change" in text and "thin 1.10 1 0 1" in text and "thin 0.60 1 0" not in text


def test_an_order_that_is_not_to_be_worked_says_so_and_asks_for_no_part(visitor_client, orders, keeper, today):
    gone, old, *_ = orders.values()
    withdraw_work_order(gone, by=keeper, on=today, reason="wrong mat")
    renew_work_order(old, by=keeper, on=today)
    page = print_page(visitor_client, order=[str(gone), str(old)])
    assert "wrong mat" in page and "work by that one" in page
    assert "None: each line of these orders is answered, or the order is not to be worked any more." in words_in(page)


def test_each_mat_stands_in_front_with_its_depot_and_a_box(visitor_client, orders):
    front = print_page(visitor_client).partition('<article class="bundle-sheet"')[0]
    mats = front[front.index("<h2>Mats</h2>") :]
    assert re.findall(r">(M-\d)<", mats) == ["M-3", "M-1", "M-2", "M-2"]
    assert mats.count('<span class="tick-box"></span>') == 4 and mats.count("Quay") == 3


def test_each_sheet_is_the_one_of_its_order(visitor_client, orders):
    order = next(iter(orders.values()))
    alone = page_of(visitor_client, order.get_absolute_url())
    (sheet,) = re.findall(r'<div class="order .*?</dl>', alone, re.S)
    assert sheet in print_page(visitor_client)


def test_the_pages_of_each_order_have_its_number_at_their_foot(visitor_client, orders):
    (sheet,) = re.findall(r'<link rel="stylesheet" href="(/work-orders/.*?)"', print_page(visitor_client))
    answer = visitor_client.get(sheet)
    assert answer["Content-Type"] == "text/css"
    feet = dict(re.findall(r'@page order-(\d+) .* content: "Work order (.*?)";', answer.content.decode()))
    assert feet == {str(order.pk): name for name, order in orders.items()}


def test_no_number_ends_the_text_it_stands_in(visitor_client, orders):
    WorkOrder.objects.filter(pk=next(iter(orders.values())).pk).update(number='W"}</style>\\é')
    sheet = page_of(visitor_client, "/work-orders/print/feet.css")
    assert r'content: "Work order W\22 \7d \3c \2f style\3e \5c \e9 ";' in sheet


def test_no_two_elements_of_the_document_share_an_id(visitor_client, orders):
    ids = re.findall(r'\sid="([^"]+)"', print_page(visitor_client))
    assert len(ids) == len(set(ids)) > 4


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"order": "W-1999-001"}, "There is no work order W-1999-001."),
        ({"depot": "Nowhere"}, "There is no depot Nowhere."),
        ({"order": "\0"}, "No work order to print."),
        ({}, "No work order to print. None is in force."),
    ],
)
def test_what_cannot_be_printed_is_said(visitor_client, asked, said):
    assert said in words_in(print_page(visitor_client, **asked))


def test_the_list_of_orders_offers_the_document_of_its_depot(visitor_client, pool):
    assert 'href="/work-orders/print/"' in page_of(visitor_client, "/work-orders/")
    assert 'href="/work-orders/print/?depot=Quay"' in page_of(visitor_client, "/work-orders/?depot=Quay")
    assert "/work-orders/print/" not in page_of(visitor_client, "/work-orders/?depot=Mill")


def queries(act):
    with CaptureQueriesContext(connection) as captured:
        assert act().status_code in (200, 302)
    return len(captured)


def test_queries_do_not_grow_with_the_orders(bench_client, design, quay, today):
    counts = []
    for mats in (2, 6):
        for _ in range(mats):
            mat = make_mat(design=design, fitted=True, fitted_on=today - OLD, depot=quay)
            make_fault(mat, "one of the cables", None, reported_on=today)
        assess_pool(today)
        form = form_in(bench_client.get(PAGE))
        counts.append(
            [
                queries(lambda: bench_client.get(PAGE)),
                queries(lambda form=form: bench_client.post(PAGE, form)),
                queries(lambda: bench_client.get("/work-orders/print/")),
            ]
        )
    assert WorkOrder.objects.count() == 8
    assert counts[0] == counts[1]
