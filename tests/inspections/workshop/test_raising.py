"""Raising a work order from where it is asked for: the page of a mat, a fault on it, the due list."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import make_design, make_fault, make_mat
from page_forms import form_in
from page_words import words_in

from fleet.models import Fitting
from inspections.assessment.services import assess_pool
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


def ticked(page):
    return re.findall(r'name="segments" value="([^"]+)"\s+data-mat="[^"]+" checked', page)


def serials(mat, *positions):
    return [mat.fittings.get(position=position).segment.serial for position in positions]


def test_the_page_of_raising_names_open_faults_and_ticks_their_cable(bench_client, mat, today):
    make_fault(mat, "cable", 2, today, what="crushed")
    make_fault(mat, "one of the cables", None, today, number=2)
    page = bench_client.get(f"{RAISE}?mat=M-017").content.decode()
    reported = f"reported {today:%-d %b %Y}"
    assert (
        f"Fault of M-017: cable, position 2 (crushed), {reported} Fault of M-017: one of the cables, {reported}"
        in words_in(page)
    )
    assert ticked(page) == serials(mat, 2)


def test_an_empty_position_is_said_to_go_on_no_order(bench_client, mat, today):
    mat.fittings.filter(position=3).update(removed_on=today)
    page = bench_client.get(f"{RAISE}?mat=M-017").content.decode()
    assert "Position 3 of M-017 is empty. It goes on no order" in words_in(page)


@pytest.mark.parametrize("whole", [False, True])
def test_the_due_list_leads_to_all_cables_of_the_chosen_mats(bench_client, mat, today, whole):
    make_fault(mat, "cable", 4, today)
    token = form_in(bench_client.get(f"{RAISE}?mat=M-017"), RAISE)["token"]
    sent = {"token": token, "segments": serials(mat, 2), "look": "1"} | ({"whole_mats": "on"} if whole else {})
    answer = bench_client.post(RAISE, sent)
    page = bench_client.get(answer.url).content.decode()
    assert ticked(page) == serials(mat, *((2, 4) if whole else (2,)))
    assert page.count('data-mat="M-017"') == 4
    assert not WorkOrder.objects.exists()


def test_every_position_needs_no_other_tick(bench_client, mat):
    form = form_in(bench_client.get(f"{RAISE}?mat=M-017"), RAISE)
    answer = bench_client.post(RAISE, form | {"every_position": "on"})
    assert answer.url == WorkOrder.objects.get().get_absolute_url()
    assert WorkOrder.objects.get().lines.count() == 4


def test_refused_it_keeps_the_mats_the_person_and_the_day(bench_client, mat, today):
    other = make_mat("M-018", fitted=True)
    form = form_in(bench_client.get(f"{RAISE}?mat=M-017&mat=M-018"), RAISE)
    refused = bench_client.post(RAISE, form | {"segments": [], "given_to": "Odo", "planned_on": today.isoformat()})
    page = refused.content.decode()
    assert refused.status_code == 422 and "Choose at least one cable." in page
    assert page.count('data-mat="M-017"') == page.count('data-mat="M-018"') == 4
    assert 'value="Odo"' in page and f'value="{today.isoformat()}"' in page
    assert form_in(refused, RAISE)["mats"] == [mat.number, other.number]


def test_an_order_is_not_planned_for_a_day_before_it_is_raised(bench_client, mat, today):
    form = form_in(bench_client.get(f"{RAISE}?mat=M-017"), RAISE)
    late = (today - timedelta(days=1)).isoformat()
    refused = bench_client.post(RAISE, form | {"segments": serials(mat, 1), "planned_on": late})
    assert refused.status_code == 422 and "plan a later day" in refused.content.decode()
    assert ticked(refused.content.decode()) == serials(mat, 1)
    assert not WorkOrder.objects.exists()


def test_queries_of_raising_do_not_grow_with_mats(bench_client, today):
    design, counts = make_design(lengths_m=[0.6, 1.1]), []
    for mats in (1, 3, 20):
        numbers = [f"M-{mats}-{number}" for number in range(mats)]
        for number in numbers:
            mat = make_mat(number, design=design, fitted=True)
            make_fault(mat, "cable", 2, today)
            mat.fittings.filter(position=1).update(removed_on=today)
        assess_pool(today)
        with CaptureQueriesContext(connection) as captured:
            page = bench_client.get(RAISE, {"mat": numbers}).content.decode()
        assert page.count("is empty. It goes on no order") == mats == len(ticked(page))
        counts.append(len(captured))
    assert len(set(counts)) == 1
