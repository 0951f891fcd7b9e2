"""A serial that the app made up stands on no cable: wherever it stands it is marked as our number, and no other is."""

import pytest
from factories import make_fault, make_mat, make_segment
from page_forms import form_in
from page_words import words_in

from inspections.workshop.services import raise_work_orders

pytestmark = pytest.mark.django_db
OURS, OWN, SPARE = "C-90073", "Q-7", "C-90099"


@pytest.fixture
def mat(today):
    """Position 1 holds a cable with a number of ours, position 2 one with its own; both are damaged."""
    mat = make_mat("M-017", fitted=True)
    for position, serial, basis in ((1, OURS, "given"), (2, OWN, "own")):
        segment = mat.fittings.get(position=position).segment
        segment.correct(by=None, serial=serial, serial_basis=basis)
        make_fault(mat, "connector", position, reported_on=today, number=position)
    make_segment(serial=SPARE, serial_basis="given")
    return mat


@pytest.fixture
def order(mat, keeper, today):
    both = mat.fittings.filter(position__in=(1, 2)).values_list("segment", flat=True)
    return raise_work_orders(both, by=keeper, on=today)[0]


def page(client, path):
    return words_in(client.get(path).content.decode())


@pytest.mark.parametrize(
    "path",
    ["/mats/M-017/", "/due/", "/due/?by=cable", "/cables/", "/mats/M-017/positions/1/fit/", f"/find/?q={OURS[:3]}"],
)
def test_every_list_marks_it(keeper_client, mat, path):
    text = page(keeper_client, path)
    assert f"{OURS} our number" in text or f"{OURS} (our number)" in text
    assert f"{OWN} our number" not in text and f"{OWN} (our number)" not in text


def test_the_page_of_the_cable_says_so(keeper_client, mat):
    assert "our number: none stands on the cable" in page(keeper_client, f"/cables/{OURS}/")
    assert "our number" not in page(keeper_client, f"/cables/{OWN}/")


def test_the_sheet_stars_it_and_says_in_the_heading_what_the_star_is(keeper_client, order):
    text = page(keeper_client, order.get_absolute_url())
    assert "Cable out * our number" in text and f"{OURS}*" in text
    assert OWN in text and f"{OWN}*" not in text


def test_a_cable_that_went_in_without_a_serial_has_the_star_too(keeper_client, mat, keeper, today):
    (order,) = raise_work_orders([mat.fittings.get(position=2).segment_id], by=keeper, on=today)
    order.lines.update(done_on=today, new_segment=mat.fittings.get(position=1).segment)
    text = page(keeper_client, order.get_absolute_url())
    assert "* our number" in text and f"{OURS}*" in text and f"{OWN}*" not in text


def test_a_sheet_without_one_has_no_star(keeper_client, mat, keeper, today):
    own = mat.fittings.get(position=2).segment_id
    (order,) = raise_work_orders([own], by=keeper, on=today)
    text = page(keeper_client, order.get_absolute_url())
    assert OWN in text and "*" not in text


def corrected(client, **changed):
    path = f"/cables/{OURS}/correct/"
    return client.post(path, form_in(client.get(path)) | {"reason": "label read"} | changed)


def test_a_serial_read_from_the_cable_takes_the_place_of_our_number(keeper_client, mat):
    assert corrected(keeper_client, serial="Z-9").status_code == 302
    assert mat.fittings.get(position=1).segment.serial_basis == "own"


def test_our_number_written_on_the_cable_is_its_own(keeper_client, mat):
    assert corrected(keeper_client, serial_basis="own").status_code == 302
    assert mat.fittings.get(position=1).segment.serial_basis == "own"


def test_another_correction_leaves_our_number_ours(keeper_client, mat):
    assert corrected(keeper_client, lot="B7").status_code == 302
    assert mat.fittings.get(position=1).segment.serial_basis == "given"
