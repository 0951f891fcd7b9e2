"""The days of an event in one cell."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.parsing.approximate_dates import ApproximateDate
from fleet.parsing.day_spans import read_day_span

ON = date(2026, 11, 27)


@pytest.mark.parametrize(
    "text",
    [
        "3-4 May 2026",
        "3./4. Mai 2026",
        "03./04.05.2026",
        "03.05.–04.05.2026",
        "Sa 3.5. - So 4.5.2026",
        "2026-05-03 to 2026-05-04",
        "2026-05-03/04",
        "May 3-4, 2026",
        "3 und 4 Mai 2026",
        "03/05/2026 - 04/05/2026",
    ],
)
def test_two_days_in_one_cell_however_they_are_joined(text):
    assert read_day_span(text, ON, "day first") == (date(2026, 5, 3), date(2026, 5, 4))


def test_one_day_and_a_rough_one_are_what_the_reader_of_days_says():
    assert read_day_span("3 May 2026", ON) == ApproximateDate(date(2026, 5, 3), date(2026, 5, 3))
    assert read_day_span("May 2026", ON) == ApproximateDate(date(2026, 5, 1), date(2026, 5, 31))


@pytest.mark.parametrize("text", ["4-3 May 2026", "soon", "1 May 2024 - 1 May 2026", "3 - 4", "5/3/2026"])
def test_what_names_no_days_that_follow_each_other_is_refused(text):
    with pytest.raises(ValueError, match="“"):
        read_day_span(text, ON)


@given(st.dates(date(1990, 1, 1), date(2030, 1, 1)), st.integers(1, 30))
def test_any_two_days_over_months_and_years_are_read_back(first, length):
    last = first + timedelta(days=length)
    written = [f"{first:%d.%m.%Y} - {last:%d.%m.%Y}", f"{first.day} {first:%B %Y} to {last.day} {last:%B %Y}"]
    if first.year == last.year:
        written += [f"{first:%d.%m}.-{last:%d.%m.%Y}", f"{first.day} {first:%b} - {last.day} {last:%b %Y}"]
    if first.month == last.month and first.year == last.year:
        written.append(f"{first.day}–{last.day} {last:%B %Y}")
    assert {read_day_span(text, ON) for text in written} == {(first, last)}
