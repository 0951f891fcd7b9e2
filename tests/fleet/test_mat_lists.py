"""Lists of mat numbers as people write them."""

from datetime import date, timedelta

import pytest
from mat_list_cases import CASES

from fleet.models import Mat
from fleet.parsing.mat_lists import read_mat_list

ON = date(2026, 9, 30)
MATS = [Mat(pk=number, number=f"M-{number:03d}") for number in range(1, 9)]
WITHDRAWN = Mat(pk=9, number="M-009", withdrawn_on=ON)
SPACED = Mat(pk=10, number="Long mat 1")
POOL = [*MATS, WITHDRAWN, SPACED]


def read(text, mats=POOL):
    listed = read_mat_list(text, mats, ON)
    return [mat.number for mat in listed.mats], list(listed.unknown)


@pytest.mark.parametrize(
    "text",
    ["M-001 M-003", "M-001,M-003", "M-001; M-003;", "\nM-001\r\nM-003\n", "m-001  m-003, M-001", "M–001 M—003"],
)
def test_blanks_commas_semicolons_lines_case_and_long_dashes_make_no_difference(text):
    assert read(text) == (["M-001", "M-003"], [])


@pytest.mark.parametrize(
    "text",
    [
        "M-002 to M-004",
        "M-002–M-004",
        "M-002 - M-004",
        "M-002-M-004",
        "m-002..m-004",
        "M-002 to 4",
        "M-002 to 004",
        "M-002-004",
        "M-002 TO m-004",
    ],
)
def test_a_range_names_all_between(text):
    assert read(text) == (["M-002", "M-003", "M-004"], [])


def test_unknown_ones_are_named_and_the_rest_is_kept():
    assert read("M-001, M-0O2; X-77 M-003") == (["M-001", "M-003"], ["M-0O2", "X-77"])


def test_gaps_within_a_range_are_named():
    assert read("M-007 to M-011") == (["M-007", "M-008"], ["M-010", "M-011"])


@pytest.mark.parametrize("text", ["M-008 to M-001", "M-001 to X-008", "M-001 to M-99999", "A to B"])
def test_what_is_no_range_stays_as_written(text):
    assert read(text) == ([], [text])


def test_withdrawn_ones_are_told_apart():
    listed = read_mat_list("M-009 M-001 M-77", POOL, ON)
    assert (listed.withdrawn, listed.mats, listed.left_over) == ((WITHDRAWN,), (MATS[0],), "M-77, M-009")
    assert read_mat_list("M-009", POOL, ON - timedelta(days=1)).mats == (WITHDRAWN,)


def test_a_number_with_blanks_is_found_on_a_line_of_its_own():
    assert read("M-001, long mat 1") == (["M-001", "Long mat 1"], [])


def test_two_mats_that_differ_only_by_case_are_not_confused():
    pair = [Mat(pk=1, number="a1"), Mat(pk=2, number="A1")]
    assert read("A1", pair) == (["A1"], [])
    assert read("a1 A1", pair) == (["a1", "A1"], [])


def test_an_empty_list_names_nothing():
    assert read(" ,;\n ") == ([], [])


def test_digits_alone_stand_for_the_one_mat_whose_number_ends_in_them():
    pool = [Mat(pk=number, number=f"M-{number:03d}") for number in range(1, 9)]
    assert read("1 3-5 08 99", pool) == (["M-001", "M-003", "M-004", "M-005", "M-008"], ["99"])
    # two that end so, and a pool in which digits are a mat's whole name
    assert read("5", [*pool, Mat(pk=9, number="K-5")]) == ([], ["5"])
    assert read("5 7", [Mat(pk=1, number="K5"), Mat(pk=2, number="7")]) == (["7"], ["5"])


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.text)
def test_the_server_reads_each_list_of_the_table(case):
    mats = [Mat(pk=pk, number=number) for pk, number in enumerate(case.pool)]
    mats[-1].withdrawn_on = ON
    listed = read_mat_list(case.text, mats, ON)
    named = {mat.number for mat in (*listed.mats, *listed.withdrawn)}
    said = [list(part) for part in (listed.unknown, listed.left_out, listed.excepting)]
    assert (named, said) == (set(case.names), [case.unknown, case.left_out, case.excepting])


def test_a_list_that_says_which_are_not_meant_stays_as_typed_beside_what_is_ticked():
    listed = read_mat_list("M-004, not 5", POOL, ON, ticked=["M-001", "M-009"])
    assert (listed.mats, listed.withdrawn, listed.left_over) == ((MATS[0],), (WITHDRAWN,), "M-004, not 5")
