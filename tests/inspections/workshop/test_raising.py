"""Raising a work order from where it is asked for: the page of a mat, a fault on it, the due list."""

from datetime import timedelta

import pytest
from django.urls import reverse
from factories import make_design, make_fault, make_mat
from page_forms import form_in
from page_words import words_in

from fleet.models import Fitting
from inspections.models import WorkOrder
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db

RAISE = "/work-orders/raise/"


@pytest.fixture
def mat(today):
    """Nothing in it is due."""
    return make_mat("M-017", design=make_design("four"), fitted=True, fitted_on=today - timedelta(days=300))


def mat_page(client, mat):
    return client.get(reverse("fleet:mat-detail", args=[mat.number])).content.decode()


def links_to_raise(page):
    return page.count(f'href="{RAISE}?mat=M-017"')


def test_an_order_can_be_raised_for_a_mat_of_which_nothing_is_due(bench_client, mat):
    assert links_to_raise(mat_page(bench_client, mat)) == 1
    form = form_in(bench_client.get(f"{RAISE}?mat=M-017"), RAISE)
    assert "segments" not in form
    serial = mat.fittings.get(position=2).segment.serial
    answer = bench_client.post(RAISE, {"token": form["token"], "segments": [serial]})
    order = WorkOrder.objects.get()
    assert answer.url == order.get_absolute_url()
    assert [line.position for line in order.lines.all()] == [2]


@pytest.mark.parametrize(
    ("place", "position", "links"),
    [
        ("cable", 2, 2),
        ("connector", 3, 2),
        ("one of the cables", None, 2),
        ("wet", None, 1),
        ("cover or fold", None, 1),
    ],
)
def test_an_open_fault_of_a_cable_leads_to_its_order(bench_client, mat, today, place, position, links):
    make_fault(mat, place, position, today)
    assert links_to_raise(mat_page(bench_client, mat)) == links


def test_a_closed_fault_and_who_may_not_raise_see_no_way_to_an_order(bench_client, visitor_client, mat, today):
    fault = make_fault(mat, "cable", 2, today)
    assert links_to_raise(mat_page(visitor_client, mat)) == 0
    fault.ended_on, fault.end_reason = today, "repair"
    fault.save()
    assert links_to_raise(mat_page(bench_client, mat)) == 1


def test_a_mat_that_is_withdrawn_or_empty_offers_no_order(bench_client, mat, today):
    make_fault(mat, "cable", 2, today)
    Fitting.objects.filter(mat=mat).update(removed_on=today)
    assert links_to_raise(mat_page(bench_client, mat)) == 0
    mat.withdrawn_on, mat.withdrawal_reason = today, "torn"
    mat.save()
    assert links_to_raise(mat_page(bench_client, mat)) == 0


def test_the_mats_page_names_its_order_with_person_and_day_and_where_to_tell(bench_client, visitor_client, mat, today):
    ids = mat.fittings.values_list("segment", flat=True)
    (order,) = raise_work_orders(ids, by=None, on=today, given_to="Odo", planned_on=today + timedelta(days=1))
    assert f"Work order {order} , for Odo, planned for tomorrow · Tell" in words_in(mat_page(bench_client, mat))
    assert f"{order.get_absolute_url()}done/" in mat_page(bench_client, mat)
    assert f"{order.get_absolute_url()}done/" not in mat_page(visitor_client, mat)
    WorkOrder.objects.update(withdrawn_on=today, withdrawal_reason="wrong mat")
    assert "planned for tomorrow" not in words_in(mat_page(bench_client, mat))
