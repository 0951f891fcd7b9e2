"""Times of years and months as people write them."""

import pytest

from fleet.parsing.durations import months_in_words, read_months


@pytest.mark.parametrize(
    ("text", "months"),
    [
        ("3", 36),
        ("2.5", 30),
        ("2,5", 30),
        ("2.3", 27),
        ("2 years 6 months", 30),
        ("2 years, 6 months", 30),
        ("2 years and 6 months", 30),
        ("1 y 3 m", 15),
        ("1y3m", 15),
        (" 1  Year 1 Month ", 13),
        ("18 months", 18),
        ("18 mo", 18),
        ("1.5 years", 18),
        ("1/12", 1),
        ("0.0833333333", 1),
        ("0.083", 0.996),
        ("0.05", 0.6),
        ("half", None),
        ("2 years 6", None),
        ("6 months 2 years", None),
        ("-1", None),
        ("1/0", None),
        ("1e3", None),
        ("9" * 200, None),
        ("", None),
    ],
)
def test_what_is_written_is_read_as_whole_months_rounded_down(text, months):
    if months is None:
        with pytest.raises(ValueError):
            read_months(text)
    else:
        assert read_months(text) == pytest.approx(months, abs=1e-5)


@pytest.mark.parametrize(
    ("months", "words"),
    [(36, "3 years"), (30, "2 years 6 months"), (13, "1 year 1 month"), (1, "1 month"), (18, "1 year 6 months")],
)
def test_months_are_shown_in_words_that_are_read_again(months, words):
    assert months_in_words(months) == words
    assert read_months(words) == months
