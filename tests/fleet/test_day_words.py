"""Days as a sentence names them."""

from datetime import date, timedelta

import pytest

from fleet.parsing.day_words import days_in_words

FRIDAY = date(2027, 1, 8)


def fridays(number):
    return [FRIDAY + timedelta(weeks=week) for week in range(number)]


@pytest.mark.parametrize(
    ("days", "words"),
    [
        ([FRIDAY], "8 Jan 2027"),
        (fridays(2), "8 Jan and 15 Jan 2027"),
        (fridays(4), "8 Jan, 15 Jan, 22 Jan and 29 Jan 2027"),
        (fridays(9), "8 Jan, 15 Jan, 22 Jan and 6 more days to 5 Mar 2027"),
        ([FRIDAY + timedelta(days=n) for n in range(3)], "8 to 10 Jan 2027"),
        ([date(2027, 1, 31), date(2027, 2, 1), date(2027, 2, 8)], "31 Jan to 1 Feb and 8 Feb 2027"),
        ([date(2027, 1, 1), date(2026, 12, 25)], "25 Dec 2026 and 1 Jan 2027"),
        ([FRIDAY, FRIDAY], "8 Jan 2027"),
    ],
)
def test_days_in_words(days, words):
    assert days_in_words(days) == words
