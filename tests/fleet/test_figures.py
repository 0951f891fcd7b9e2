"""Days and numbers as pages show them."""

from datetime import date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.figures import day_ahead, figure, percent, short_day, short_time, two_places


def test_a_day_and_a_moment_are_written_in_one_way():
    assert short_day(date(2026, 9, 5)) == "5 Sep 2026"
    assert short_time(datetime(2026, 11, 26, 7, 5)) == "26 Nov 2026, 07:05"
    assert short_day(None) == ""


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0, "below 0.1"),
        (0.00099, "below 0.1"),
        (0.001, "0.1"),
        (0.0094, "0.9"),
        (0.0096, "1"),
        (0.0149, "1"),
        (0.356, "36"),
        (0.994, "99"),
        (0.996, "above 99"),
        (1, "above 99"),
    ],
)
def test_a_chance_is_whole_from_one_per_cent_on_and_never_sure(chance, said):
    assert percent(chance) == f"{said}\N{NO-BREAK SPACE}%"


@given(st.floats(0, 1), st.floats(0, 1))
def test_of_two_chances_the_larger_never_reads_smaller(one, other):
    def read(chance):
        words = percent(chance).removesuffix("\N{NO-BREAK SPACE}%")
        return {"below 0.1": 0, "above 99": 100}.get(words) if " " in words else float(words)

    less, more = sorted([one, other])
    assert read(less) <= read(more)


def test_lengths_and_losses_have_two_places_and_settings_those_they_were_given():
    assert [two_places(number) for number in (0.4, 3, 2.005, None)] == ["0.40", "3.00", "2.00", ""]
    assert [figure(number) for number in (3.0, 0.15, 866.5)] == ["3", "0.15", "866.5"]


@pytest.mark.parametrize(
    ("day", "said"),
    [
        (date(2036, 2, 28), "28 Feb 2036"),
        (date(2036, 3, 1), "not within 10 years"),
        (date(2020, 1, 1), "1 Jan 2020"),
        (None, ""),
    ],
)
def test_no_day_is_expected_beyond_ten_years(day, said):
    assert day_ahead(day, date(2026, 2, 28)) == said
