"""Which cable the name of a file, or what somebody types, names on a day."""

from datetime import date

import pytest
from factories import fit, make_mat, make_segment

from inspections.sweeps.selectors import cables_named

pytestmark = pytest.mark.django_db
THEN, LATER = date(2026, 3, 1), date(2026, 6, 1)


def named(text, day=LATER):
    (cable,) = cables_named([(text, day)])
    return cable and cable.serial


@pytest.fixture
def cables():
    mat = make_mat("M-017")
    first, second = make_segment(serial="C-01234"), make_segment(serial="C-9")
    fit(first, mat, 3, fitted_on=date(2026, 1, 1), removed_on=date(2026, 5, 1))
    fit(second, mat, 3, fitted_on=date(2026, 5, 1))


@pytest.mark.parametrize(
    "text", ["C-01234", "c-01234.S2P", "C-01234_2026-05-02.s2p", "before C-01234 cleaned.csv", "C-01234 (2).s1p"]
)
def test_a_serial_in_the_name_is_that_cable(cables, text):
    assert named(text) == "C-01234"


@pytest.mark.parametrize("text", ["M-017_3.s2p", "M-017 pos 3", "m-017 position 3.s1p", "M-017pos3.csv", "M-017 · 3"])
def test_mat_and_position_are_the_cable_that_was_there_on_that_day(cables, text):
    assert named(text, THEN) == "C-01234"
    assert named(text, LATER) == "C-9"


@pytest.mark.parametrize("text", ["", None, "sweep 1.s2p", "M-017.s2p", "M-017_4.s2p", "C-01234 C-9.s2p", "3", "___"])
def test_what_names_no_one_cable_is_asked(cables, text):
    assert named(text) is None


def test_a_place_that_was_empty_then_is_asked(cables):
    assert named("M-017_3", date(2025, 12, 31)) is None


def test_many_names_take_as_many_queries_as_one(cables, django_assert_num_queries):
    with django_assert_num_queries(2):
        cables_named([(f"C-{number}_M-017_3.s2p", LATER) for number in range(50)] + [("M-017_3", LATER)])
