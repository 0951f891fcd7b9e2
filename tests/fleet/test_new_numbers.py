"""Lists of mats as people write them: words that only join, and notes, are no mats."""

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.models import Mat
from fleet.parsing.mat_lists import Unread, read_mat_list, read_new_numbers

ON = date(2026, 11, 27)
WRITTEN = [
    ("4 und K5", "4 K5"),
    ("K1, K2, K3 / K4 und K5", "K1 K2 K3 K4 K5"),
    ("K1 K2 and K3 (old)", "K1 K2 K3"),
    ("1 2 and 3", "1 2 3"),
    ("1, 2 and 3", "1 2 3"),
    ("1 y 2 et 3 & 4 + 5", "1 2 3 4 5"),
    ("1 AND 2", "1 2"),
    ("25-30", "25 26 27 28 29 30"),
    ("25 - 30", "25 26 27 28 29 30"),
    ("25 -30", "25 26 27 28 29 30"),
    ("von 25 bis 30", "25 26 27 28 29 30"),
    ("17 18 20-24", "17 18 20 21 22 23 24"),
    ("M-001 to 3", "M-001 M-002 M-003"),
    ("mats 1-3 and 7", "1 2 3 7"),
    ("M1/M2", "M1 M2"),
    ("#5 “K1”", "5 K1"),
    ("1.\n2.", "1 2"),
    ("* K1\n* K2", "K1 K2"),
]


@pytest.mark.parametrize(("text", "numbers"), WRITTEN)
def test_a_list_names_the_same_new_mats_as_known_ones(text, numbers):
    numbers = numbers.split()
    assert list(read_new_numbers(text).numbers) == numbers
    mats = [Mat(pk=pk, number=number) for pk, number in enumerate(numbers, 1)]
    listed = read_mat_list(text, mats, ON)
    assert ([mat.number for mat in listed.mats], listed.unknown) == (numbers, ())


def test_notes_are_left_out_and_named():
    new = read_new_numbers("K1 K2 and K3 (old), K4 [red, torn]")
    assert (new.numbers, new.left_out) == (("K1", "K2", "K3", "K4"), ("(old)", "[red, torn]"))
    listed = read_mat_list("K1 (old)", [Mat(pk=1, number="K1")], ON)
    assert ([mat.number for mat in listed.mats], listed.left_out) == (["K1"], ("(old)",))


@pytest.mark.parametrize(
    ("text", "unread", "why"),
    [
        ("all", "all", "write the numbers of all mats"),
        ("1-10 except 4", "1-10 except 4", "only the numbers that you mean"),
        ("1-10 (not 5)", "(not 5)", "only the numbers that you mean"),
        ("K1 K2 spare", "spare", "a note in brackets"),
        ("K1 (old", "(old", "a note in brackets"),
        ("M 001, M 002", "M 001", "without spaces in a number"),
        ("M-1..K-2", "M-1..K-2", "M-001 to M-008"),
        ("30-25", "30-25", "it runs backwards"),
        ("K1, M-8 to M-1", "M-8 to M-1", "it runs backwards"),
        ("25–2", "25–2", "it runs backwards"),
        ("1-2000", "1-2000", "it is more than 1,000 mats"),
        ("1 to 2000", "1 to 2000", "it is more than 1,000 mats"),
        ("2a-c", "2a-c", "letters make no range"),
        ("K2a-K2c", "K2a-K2c", "letters make no range"),
        ("K1.K2.K3", "K1.K2.K3", "write commas"),
        ("1.2.3", "1.2.3", "write commas"),
        ("K1.K2", "K1.K2", "write commas"),
        ("😀 mat", "😀", "the number of each mat"),
        ("alte Matte", "Matte", "the number of each mat"),
        ("mats", "mats", "the number of each mat"),
        ("FINISH to", "to", "the number of each mat"),
    ],
)
def test_what_may_be_no_number_is_refused_with_what_to_do(text, unread, why):
    with pytest.raises(Unread) as refused:
        read_new_numbers(text)
    assert str(refused.value) == unread
    assert why in refused.value.why


def test_a_mat_that_is_called_a_word_has_a_line_of_its_own():
    assert read_new_numbers("FINISH\n1\n2").numbers == ("FINISH", "1", "2")


def test_what_is_read_as_one_mat_and_may_be_none_or_two_is_told_apart():
    new = read_new_numbers("START\nK1-M5 2024-001 1.2 M-001 2024-A K.5")
    assert (new.words, new.halved) == (["START"], ["K1-M5", "2024-001", "1.2"])
    assert read_new_numbers("START FINISH").words == ["START", "FINISH"]


def test_of_known_mats_all_are_those_in_use_and_a_name_stands_before_any_rule():
    mats = [Mat(pk=1, number="1"), Mat(pk=2, number="and"), Mat(pk=3, number="(old)")]
    gone = Mat(pk=4, number="4", withdrawn_on=ON)
    assert read_mat_list("all", [*mats, gone], ON).mats == tuple(mats)
    assert [mat.number for mat in read_mat_list("1 and (old)", mats, ON).mats] == ["1", "and", "(old)"]
    assert read_mat_list("all", [gone], ON).unknown == ("all",)


def test_what_takes_mats_away_again_is_not_known():
    mats = [Mat(pk=pk, number=f"{pk}") for pk in range(1, 6)]
    assert read_mat_list("1-5 except 4", mats, ON).unknown == ("1-5 except 4",)
    assert read_mat_list("1-5 (not 4)", mats, ON).unknown == ("(not 4)",)


NAMES = st.lists(st.from_regex(r"\A[A-Z]{0,2}-?[0-9]{1,3}\Z").filter(lambda name: name[0] != "-"), max_size=8)
JOINTS = st.sampled_from([" ", ", ", "; ", "\n", " and ", " und ", " et ", " & ", " (note), "])


@given(names=NAMES, joint=JOINTS)
@settings(max_examples=100, deadline=None)
def test_whatever_stands_between_numbers_they_are_read_as_themselves(names, joint):
    once = list(dict.fromkeys(names))
    assert list(read_new_numbers(joint.join(names)).numbers) == once
    mats = [Mat(pk=pk, number=name) for pk, name in enumerate(once, 1)]
    assert [mat.number for mat in read_mat_list(joint.join(names), mats, ON).mats] == once


@given(st.text(max_size=60))
@settings(max_examples=200, deadline=None)
def test_any_text_is_a_list_or_refused_with_what_cannot_be_read(text):
    try:
        numbers = read_new_numbers(text).numbers
    except Unread as refused:
        assert str(refused)
    else:
        assert len(numbers) == len({number.casefold() for number in numbers})
    assert read_mat_list(text, [], ON).mats == ()
