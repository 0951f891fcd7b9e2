"""Days as people remember them: what each may have been, what is stored of it, what is asked back."""

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.parsing.approximate_dates import (
    SEASONS,
    ApproximateDate,
    fitted_in_words,
    given_span,
    span_in_words,
    span_of,
    two_years,
)
from fleet.parsing.rough_days import read_rough_day

ON = date(2026, 11, 27)


@pytest.mark.parametrize(
    ("text", "first", "last", "shown"),
    [
        ("spring 2023", "2023-03-01", "2023-05-31", "about spring 2023"),
        ("in the spring of '23", "2023-03-01", "2023-05-31", "about spring 2023"),
        ("Frühjahr 2023", "2023-03-01", "2023-05-31", "about spring 2023"),
        ("summer 2022", "2022-06-01", "2022-08-31", "about summer 2022"),
        ("fall 2024", "2024-09-01", "2024-11-30", "about autumn 2024"),
        ("winter 2022/23", "2022-12-01", "2023-02-28", "about winter 2022/23"),
        ("winter 2023-2024", "2023-12-01", "2024-02-29", "about winter 2023/24"),
        ("last year", "2025-01-01", "2025-12-31", "about 2025"),
        ("letztes Jahr", "2025-01-01", "2025-12-31", "about 2025"),
        ("two years ago", "2024-01-01", "2024-12-31", "about 2024"),
        ("vor 2 Jahren", "2024-01-01", "2024-12-31", "about 2024"),
        ("3 months ago", "2026-08-01", "2026-08-31", "about Aug 2026"),
        ("last month", "2026-10-01", "2026-10-31", "about Oct 2026"),
        ("early 2024", "2024-01-01", "2024-03-31", "about Jan to Mar 2024"),
        ("mid-2023", "2023-06-01", "2023-08-31", "about summer 2023"),
        ("end of 2022", "2022-10-01", "2022-12-31", "about Oct to Dec 2022"),
        ("Q2 24", "2024-04-01", "2024-06-30", "about Apr to Jun 2024"),
        ("3rd quarter of 2024", "2024-07-01", "2024-09-30", "about Jul to Sep 2024"),
        ("late May 2024", "2024-05-01", "2024-05-31", "about May 2024"),
        ("May 24", "2024-05-01", "2024-05-31", "about May 2024"),
        ("05/2024", "2024-05-01", "2024-05-31", "about May 2024"),
        ("05/24", "2024-05-01", "2024-05-31", "about May 2024"),
        ("Mai 2024", "2024-05-01", "2024-05-31", "about May 2024"),
        ("about 2021", "2021-01-01", "2021-12-31", "about 2021"),
        ("~2021", "2021-01-01", "2021-12-31", "about 2021"),
        ("2021?", "2021-01-01", "2021-12-31", "about 2021"),
        ("about 12 March 2024", "2024-03-01", "2024-03-31", "about Mar 2024"),
        ("2019/20", "2019-01-01", "2020-12-31", "about 2019 or 2020"),
        ("2019–2020", "2019-01-01", "2020-12-31", "about 2019 or 2020"),
        ("2019-10", "2019-10-01", "2019-10-31", "about Oct 2019"),
        ("yesterday", "2026-11-26", "2026-11-26", "26 Nov 2026"),
        ("1st May 2024", "2024-05-01", "2024-05-01", "1 May 2024"),
        ("03.05.2026", "2026-05-03", "2026-05-03", "3 May 2026"),
        ("Samstag, 3. Mai 2026", "2026-05-03", "2026-05-03", "3 May 2026"),
        ("3-May-26", "2026-05-03", "2026-05-03", "3 May 2026"),
        ("13/5/2026", "2026-05-13", "2026-05-13", "13 May 2026"),
        ("5/13/2026", "2026-05-13", "2026-05-13", "13 May 2026"),
        ("2026-05-03 14:30", "2026-05-03", "2026-05-03", "3 May 2026"),
        ("May-24", "2024-05-01", "2024-05-31", "about May 2024"),
        ("3Q24", "2024-07-01", "2024-09-30", "about Jul to Sep 2024"),
        # ISO 8601, 2.2.10: week 1 holds the year's first Thursday; 2 May 2024 is the Thursday of week 18
        ("KW 18/24", "2024-04-29", "2024-05-05", "about 2 May 2024"),
        ("2020-W53", "2020-12-28", "2021-01-03", "about 31 Dec 2020"),
    ],
)
def test_what_people_write_is_the_span_that_it_says(text, first, last, shown):
    span = read_rough_day(text, ON)
    assert (str(span.first), str(span.last)) == (first, last)
    assert fitted_in_words(*span.fitted(ON)) == shown


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("summer", "“summer” can be any year: write summer and the year, such as summer 2025."),
        ("last winter", "can be any year: write winter and the year, such as winter 2025/26."),
        ("winter 2023", "can be two winters: write winter 2022/23 or winter 2023/24."),
        ("5/3/26", "has two digits for the year: write 5 March 2026 or 3 May 2026."),
        ("5/3/2026", "can be read in two ways: write 5 March 2026 or 3 May 2026."),
        ("KW 53 2024", "is not a day, month or year"),
        ("13.3.24", "has two digits for the year: write 13 March 2024."),
        ("05/06", "can be read in several ways: write May 2006, if you mean that."),
        ("before 2020", "“before 2020” is not a day, month or year since 1950: write 12 March 2024"),
        ("2019-21", "is not a day, month or year"),
        ("autumn 2024/25", "is not a day, month or year"),
        ("99 March 2024", "is not a day, month or year"),
        ("00.00.24", "is not a day, month or year"),
        ("9999999 years ago", "is not a day, month or year"),
        ("-", "is not a day, month or year"),
    ],
)
def test_what_can_be_meant_in_two_ways_is_asked_and_not_guessed(text, asked):
    with pytest.raises(ValueError, match=r".") as refused:
        read_rough_day(text, ON)
    assert asked in str(refused.value)


@pytest.mark.parametrize(
    ("text", "order", "day"),
    [
        ("5/3/26", "day first", date(2026, 3, 5)),
        ("5/3/26", "month first", date(2026, 5, 3)),
        ("5-3-2026", "month first", date(2026, 5, 3)),
        ("5.3.26", "month first", date(2026, 3, 5)),
    ],
)
def test_the_order_of_a_column_says_which_number_is_the_day_but_between_dots_it_is_the_first(text, order, day):
    assert read_rough_day(text, ON, order) == ApproximateDate(day, day)


def test_a_day_that_the_order_of_its_column_does_not_allow_is_refused_and_not_turned_about():
    with pytest.raises(ValueError, match="is not a day"):
        read_rough_day("5/13/26", ON, "day first")


SPANS = st.one_of(
    st.dates(date(1950, 1, 1), date(2026, 1, 1)).map(lambda day: span_of(day.year, day.month)),
    st.integers(1950, 2025).map(span_of),
    st.integers(1951, 2025).map(two_years),
    st.builds(span_of, st.integers(1950, 2025), st.sampled_from([*SEASONS, 1, 4, 7, 10]), st.just(3)),
    st.dates(date(1950, 1, 1), ON).map(lambda day: ApproximateDate(day, day)),
)


@given(SPANS)
@settings(max_examples=100, deadline=None)
def test_every_span_in_words_is_read_back_as_itself_and_from_what_is_stored(span):
    words = span_in_words(span)
    if " to " not in words:
        assert read_rough_day(words, ON) == span
    day, basis = span.fitted(ON)
    assert span.first <= day <= span.last
    if basis == "about" and day != span.first:
        assert given_span(day) == span


@given(st.text(max_size=40))
@settings(max_examples=200, deadline=None)
def test_any_text_is_a_span_or_refused_with_a_sentence(text):
    try:
        span = read_rough_day(text, ON)
    except ValueError as refused:
        assert str(refused).startswith("“")
        assert str(refused).endswith(".")
    else:
        assert span.first <= span.last
