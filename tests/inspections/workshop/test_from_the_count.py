"""New cables without a serial come out of those that are counted on the shelf, and the ledger names the order."""

import pytest
from django.core.exceptions import ValidationError
from factories import make_cable_type, make_depot, make_design, make_mat, make_pile
from page_forms import form_in
from page_words import words_in

from fleet.models import CableSegment, StockEntry
from fleet.services.fittings import TakenOut
from fleet.services.shelf import lie_there
from inspections.workshop.change_services import Change, GoesIn, change_cables
from inspections.workshop.services import raise_work_orders
from inspections.workshop.sign_off_services import answer_order

pytestmark = pytest.mark.django_db


@pytest.fixture
def thin():
    return make_cable_type("thin")


@pytest.fixture
def quay():
    return make_depot("Quay")


@pytest.fixture
def mat(thin, quay):
    return make_mat("M-1", make_design(lengths_m=(0.6, 0.6), cable_type=thin), depot=quay)


@pytest.fixture
def acts(keeper, today):
    return {"by": keeper, "on": today, "changed_on": today}


def test_they_are_taken_at_the_depot_of_the_mat_first(mat, thin, quay, acts):
    here, elsewhere = make_pile(thin, 0.6, quay, 1, "L-1"), make_pile(thin, 0.6, make_depot("Mill"), 8, "L-2")
    change_cables(mat, [Change(1, GoesIn()), Change(2, GoesIn())], **acts)
    assert (lie_there(here), lie_there(elsewhere)) == (0, 7)
    assert list(CableSegment.objects.order_by("serial").values_list("lot", flat=True)) == ["L-1", "L-2"]


def test_more_than_are_counted_came_from_outside(mat, thin, quay, acts):
    pile = make_pile(thin, 0.6, quay, 1)
    change_cables(mat, [Change(1, GoesIn()), Change(2, GoesIn())], **acts)
    assert lie_there(pile) == 0
    told = StockEntry.objects.exclude(segment=None).order_by("number").values_list("change", "reason")
    assert list(told) == [(1, "moved"), (1, "received"), (-1, "fitted"), (-1, "fitted")]


def test_of_several_lots_one_is_named_on_the_page(bench_client, mat, thin, quay, today):
    for lot in ("L-1", "L-2"):
        make_pile(thin, 0.6, quay, 4, lot)
    address = "/mats/M-1/change/"
    typed = {"change-1": "on", "new-1": "", "all-new": "new", "changed_on": today, "basis": "known"}
    late = bench_client.post(address, form_in(bench_client.get(address)) | typed)
    assert late.status_code == 422
    assert "from several lots: L-1, L-2. Write the lot of the new cable." in words_in(late.content.decode())
    assert not CableSegment.objects.exists()
    assert bench_client.post(address, form_in(late) | typed | {"all-lot": "L-2"}).status_code == 302
    assert CableSegment.objects.get().lot == "L-2"


def test_an_order_that_is_signed_off_stands_in_the_ledger(thin, quay, acts, keeper, today):
    mat = make_mat("M-2", make_design(lengths_m=(0.6,), cable_type=thin), depot=quay, fitted=True)
    place = mat.fittings.get()
    make_pile(thin, 0.6, quay, 2)
    (order,) = raise_work_orders([place.segment_id], by=keeper, on=today)
    answer_order(order, changes=[Change(1, GoesIn(), TakenOut(place, "worn"))], **acts)
    told = StockEntry.objects.exclude(work_order="").order_by("number").values_list("change", "reason", "work_order")
    assert sorted(told) == [(-1, "fitted", order.number), (1, "returned", order.number)]


def test_a_refused_change_takes_nothing(mat, thin, quay, acts):
    pile = make_pile(thin, 0.6, quay, 4)
    with pytest.raises(ValidationError):
        change_cables(mat, [Change(1, GoesIn()), Change(9, GoesIn())], **acts)
    assert lie_there(pile) == 4 and StockEntry.objects.count() == 1
