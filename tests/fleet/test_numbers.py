"""Numbers and ranges as people write them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.parsing.numbers import read_lengths, read_numbers, read_times_a_year


@pytest.mark.parametrize(
    ("text", "said", "middle"),
    [
        ("28", "28", 28),
        ("25-30", "25 to 30", 28),
        ("25 to 30 times a year", "25 to 30", 28),
        ("about 28", "28", 28),
        ("~ 30", "30", 30),
        ("between 25 and 30", "25 to 30", 28),
        ("2-3 a month", "24 to 36", 30),
        ("weekly", "52", 52),
        ("twice a year", "2", 2),
    ],
)
def test_a_rate_is_read_as_it_is_said_and_its_middle_is_kept(text, said, middle):
    times = read_times_a_year(text)
    assert (str(times), times.middle) == (said, middle)


@pytest.mark.parametrize("text", ["often", "", "30-25", "1-2-3", "-3", "9" * 30, "2.5", "1e3"])
def test_what_is_no_rate_is_refused(text):
    with pytest.raises(ValueError, match=r"^"):
        read_times_a_year(text)


@pytest.mark.parametrize(
    ("text", "lengths"),
    [
        ("about 0,5 to 4", [0.5, 4]),
        ("0.5-4", [0.5, 4]),
        ("from 0,5 – 4 m", [0.5, 4]),
        ("0.5 m, 1 m and 1.5 m", [0.5, 1, 1.5]),
        ("0,5 1,0", [0.5, 1]),
        ("", []),
    ],
)
def test_lengths_are_a_list_or_the_shortest_and_the_longest(text, lengths):
    assert read_lengths(text) == lengths


@pytest.mark.parametrize(("text", "unread"), [("0.5 1 x", "x"), ("50 cm to 4 m", "cm"), ("0.5 to", "to")])
def test_what_is_no_number_is_named(text, unread):
    with pytest.raises(ValueError, match=unread):
        read_lengths(text)


@given(st.lists(st.integers(1, 1999).map(lambda cm: cm / 100), max_size=8), st.booleans())
@settings(max_examples=50, deadline=None)
def test_numbers_with_points_or_commas_are_read_back(numbers, comma):
    text = " ".join(f"{number:g}" for number in numbers)
    text = text.replace(".", ",") if comma else text
    assert read_numbers(text) == read_lengths(text) == numbers


@given(st.text(max_size=40))
@settings(max_examples=200, deadline=None)
def test_any_text_is_read_or_refused(text):
    for read in (read_lengths, read_times_a_year):
        try:
            read(text)
        except ValueError:
            continue
