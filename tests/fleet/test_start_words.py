"""What people write at the start: days as they remember them, and numbers of mats that are not on record yet."""

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta

from fleet.parsing.approximate_dates import given_span
from fleet.parsing.mat_lists import read_new_numbers
from fleet.parsing.rough_days import read_rough_day

ON = date(2026, 9, 30)


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("M-001 to M-003", ["M-001", "M-002", "M-003"]),
        ("M-001-M-003", ["M-001", "M-002", "M-003"]),
        ("M-001 - 3", ["M-001", "M-002", "M-003"]),
        ("M-009–M-011", ["M-009", "M-010", "M-011"]),
        ("1-3", ["1", "2", "3"]),
        ("M-001, M-007;K-2", ["M-001", "M-007", "K-2"]),
        ("M-001\nM-001\tM-002", ["M-001", "M-002"]),
        ("A B", ["A", "B"]),
        ("2024-A", ["2024-A"]),
    ],
)
def test_lists_and_ranges_of_new_mats(text, numbers):
    assert list(read_new_numbers(text).numbers) == numbers


@pytest.mark.parametrize("text", ["M-1 to M-5000", "A to B", "M-5 to M-1", "M-1..K-2", "M 001"])
def test_what_is_no_range_is_refused_not_stored_as_a_name(text):
    with pytest.raises(ValueError, match=r"."):
        read_new_numbers(text)


@pytest.mark.parametrize("year", [1999, 2023, 2024, 2025])
@pytest.mark.parametrize("month", range(1, 13))
def test_a_month_ends_where_the_calendar_says(year, month):
    span = read_rough_day(f"{year}-{month:02d}", ON)
    first = date(year, month, 1)
    assert (span.first, span.last) == (first, first + relativedelta(months=1, days=-1))


@pytest.mark.parametrize("year", [1999, 2024, 2025])
def test_a_year_ends_where_the_calendar_says(year):
    span = read_rough_day(str(year), ON)
    assert (span.first, span.last) == (date(year, 1, 1), date(year, 1, 1) + relativedelta(years=1, days=-1))


@pytest.mark.parametrize("text", ["2024", "March 2024", "12/2023", "2026-09", "2026", "Jul 2024"])
def test_what_is_stored_of_a_rough_day_is_read_back_as_the_span_that_was_told(text):
    told = read_rough_day(text, ON)
    day, basis = told.fitted(ON)
    assert basis == "about"
    assert told.first <= day <= told.last
    assert given_span(day) == told


def test_a_span_whose_middle_lies_ahead_is_stored_from_its_first_day():
    assert read_rough_day("2026", ON).fitted(date(2026, 3, 10)) == (date(2026, 1, 1), "about")
    assert given_span(date(2026, 1, 1)) is None


def test_an_exact_day_is_known():
    assert read_rough_day("29 Feb 2024", ON).fitted(ON) == (date(2024, 2, 29), "known")


@pytest.mark.parametrize("text", ["29 Feb 2023", "1949", "13/2024", "2024-00", "soon", "12 Foo 2024", "24"])
def test_what_is_no_day_is_refused(text):
    with pytest.raises(ValueError, match=r"."):
        read_rough_day(text, ON)
