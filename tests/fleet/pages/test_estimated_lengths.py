"""Lengths that were filled in between are shown as estimates wherever they stand, until somebody measures them."""

import csv
import io
import re
import uuid
from datetime import timedelta

import pytest
from factories import make_cable_type, make_design, make_mat, make_segment
from page_forms import form_in
from page_words import words_in
from start_pages import START, tell

from fleet.models import CableSegment, DesignPosition, Mat
from inspections.assessment.services import assess_pool
from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db


def answers(**changed):
    given = {
        "token": str(uuid.uuid4()),
        "width_m": "4",
        "cables": "4",
        "lengths_m": "0.5 2",
        "mats": "1 to 2",
        "since": "changed",
        "when": "2022",
        "band": "865",
    }
    return given | changed


def bases():
    """Length and basis by position, which the cables share with the design."""
    rows = list(DesignPosition.objects.order_by("number").values_list("length_m", "length_basis"))
    of_cables = CableSegment.objects.filter(fittings__mat=Mat.objects.first()).order_by("fittings__position")
    assert list(of_cables.values_list("length_m", "length_basis")) == rows
    return rows


def spelled_out(client, **changed):
    """The form as the page gives it back when the lengths in between are shown."""
    return form_in(client.post(START, answers(**changed) | {"propose": "yes"})) | {"since": "changed"}


def test_of_two_lengths_those_in_between_are_estimates(keeper_client):
    assert tell(keeper_client, answers()).status_code == 302
    assert bases() == [(0.5, "known"), (1.0, "estimated"), (1.5, "estimated"), (2.0, "known")]


def test_lengths_that_the_page_showed_stay_estimates_and_those_typed_over_are_known(keeper_client):
    shown = spelled_out(keeper_client)
    assert shown["lengths_m"] == "0.5 1 1.5 2"
    tell(keeper_client, shown | {"lengths_m": "0,5 1 1,4 2"})
    assert bases() == [(0.5, "known"), (1.0, "estimated"), (1.4, "known"), (2.0, "known")]


def test_shown_again_they_are_still_estimates(keeper_client):
    again = form_in(keeper_client.post(START, spelled_out(keeper_client) | {"propose": "yes"}))
    tell(keeper_client, again | {"since": "changed"})
    assert [basis for _, basis in bases()] == ["known", "estimated", "estimated", "known"]


@pytest.mark.parametrize("given", ["0.5 1 1.5 2", "2 2"])
def test_all_that_somebody_gave_or_that_can_be_no_other_is_known(keeper_client, given):
    tell(keeper_client, answers(lengths_m=given, filled_in="garbage"))
    assert {basis for _, basis in bases()} == {"known"}


# --- wherever a length stands


@pytest.fixture
def mat(keeper, today):
    """One cable of known length, one estimated, both too old."""
    design = make_design("D-1", lengths_m=(0.6, 1.1), cable_type=make_cable_type("thin"))
    design.positions.filter(number=2).update(length_basis="estimated")
    mat = make_mat("M-1", design=design, fitted=True, fitted_on=today - timedelta(days=1200))
    CableSegment.objects.filter(length_m=1.1).update(length_basis="estimated", serial="C-EST")
    assess_pool(today)
    return mat


ESTIMATED = "1.10 estimated"
WHERE = {
    "/due/": "1.10 m (estimated)",
    "/due/?by=cable": "1.10 estimated",
    "/due/print/": "1.10 m thin: 1, 1 now (1 estimated)",
    "/mats/M-1/": ESTIMATED,
    "/cables/": ESTIMATED,
    "/cables/C-EST/": "Length 1.10 m (estimated)",
    "/designs/D-1/": ESTIMATED,
    "/bench/M-1/": ESTIMATED,
    "/mats/M-1/positions/2/fit/": "This position needs 1.10 m (estimated) of thin. Measure the old cable",
    "/work-orders/raise/?mat=M-1": "1.10 estimated",
    "/find/?q=c-": "1.10 m (estimated), thin",
    "/start/answer/": "1.10 estimated",
}


@pytest.mark.parametrize("place", WHERE)
def test_an_estimated_length_says_so_in_words(keeper_client, mat, place):
    text = words_in(keeper_client.get(place).content.decode())
    assert WHERE[place] in text
    assert not re.search(r"0\.60? (m )?\(?estimated", text)


def test_the_drawing_says_it_too(keeper_client, mat):
    page = keeper_client.get("/mats/M-1/").content.decode()
    assert "2 2 1.10 m est." in words_in(page)
    assert "est.: the length is estimated, nobody has measured it." in words_in(page)
    assert "Position 2: 1.10 m (estimated), change now" in page


@pytest.mark.parametrize("place", ["/start/answer/", "/due/print/", "/due/?within=1"])
def test_a_list_to_buy_from_says_to_measure_first(keeper_client, mat, place):
    assert "Measure before you order." in keeper_client.get(place).content.decode()
    CableSegment.objects.update(length_basis="known")
    assert "Measure before you order." not in keeper_client.get(place).content.decode()


def test_of_a_kind_some_of_which_are_estimated_it_is_said_how_many(keeper_client, mat, today):
    make_mat("M-2", design=mat.design, fitted=True, fitted_on=today - timedelta(days=1200))
    assess_pool(today)
    for place in ("/start/answer/", "/due/?within=1"):
        assert "1.10 1 of 2 estimated" in words_in(keeper_client.get(place).content.decode())
    assert "(1 estimated)" in words_in(keeper_client.get("/due/print/").content.decode())


def test_the_sheet_of_a_work_order_keeps_it(keeper_client, keeper, mat, today):
    (order,) = raise_work_orders(mat.fittings.values_list("segment", flat=True), by=keeper, on=today)
    DesignPosition.objects.update(length_basis="known")
    text = words_in(keeper_client.get(order.get_absolute_url()).content.decode())
    assert "1 × 1.10 m (estimated)" in text
    assert "Measure before you order or cut: nobody has measured the estimated lengths." in text
    for position in order.sheet["positions"] + order.sheet["parts"]:
        del position["length_basis"]
    order.save()
    assert "estimated" not in keeper_client.get(order.get_absolute_url()).content.decode(), (
        "sheets of before say nothing"
    )


def test_the_file_of_the_due_list_has_the_basis_beside_the_length(keeper_client, mat):
    answer = keeper_client.get("/due.csv")
    rows = list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode())))
    assert {(row["length_m"], row["length_basis"]) for row in rows} == {("0.6", "known"), ("1.1", "estimated")}


# --- corrected, it is known


@pytest.mark.parametrize(
    ("typed", "stored"),
    [
        ({"length_m": "1.2"}, (1.2, "known")),
        ({"length_m": "1.2", "length_basis": "estimated"}, (1.2, "estimated")),
        ({"length_basis": "known"}, (1.1, "known")),
        ({"reason": "only looked"}, (1.1, "estimated")),
    ],
)
@pytest.mark.parametrize("address", ["/cables/C-EST/correct/", "/designs/D-1/positions/2/correct/"])
def test_a_corrected_length_is_known_unless_somebody_says_otherwise(keeper_client, mat, address, typed, stored):
    assert keeper_client.post(address, form_in(keeper_client.get(address)) | typed).status_code == 302
    row = CableSegment.objects.get(serial="C-EST") if "cables" in address else mat.design.positions.get(number=2)
    assert (row.length_m, row.length_basis) == stored


def test_a_known_length_stays_known_when_something_else_is_corrected(keeper_client):
    make_segment(serial="C-KNOWN")
    address = "/cables/C-KNOWN/correct/"
    keeper_client.post(address, form_in(keeper_client.get(address)) | {"lot": "B", "length_m": "1.7"})
    row = CableSegment.objects.get(serial="C-KNOWN")
    assert (row.lot, row.length_m, row.length_basis) == ("B", 1.7, "known")
