"""Costs and ages as the page of costs says them."""

import numpy as np
import pytest

from inspections.numeric.words import Clock
from inspections.templatetags.cost_text import age_between, age_span, money, money_span, over_in_words

INF = np.inf


@pytest.mark.parametrize(
    ("ages", "said"),
    [
        ((2.5, 2.5), "2 years 6 months"),
        ((4.75, 3.0), "3 years to 4 years 9 months"),
        ((2.0, 3.0), "2 to 3 years"),
        ((13.2, 17.7), "13 to 18 years"),
        ((8.5, 11.0), "8 years 6 months to 11 years"),
        ((0.5, 1.0), "6 months to 1 year"),
        ((4.0, INF), "4 years, or do not change by age"),
        ((INF, INF), "do not change by age"),
    ],
)
def test_ages_of_least_cost_are_a_span_as_exact_as_anybody_knows_them(ages, said):
    assert age_span(ages, Clock.YEARS) == said


def test_counts_of_events_are_whole():
    assert age_span((110.2, 143.9), Clock.EVENTS) == "110 to 143 events"


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [(2.0, INF, "from 2 years on"), (INF, INF, "not within 40 years"), (1.5, 2.0, "1 year 6 months to 2 years")],
)
def test_a_range_may_have_no_end(low, high, said):
    assert age_between(low, high, Clock.YEARS) == said


def test_money_has_hundredths_only_where_they_count():
    assert [money(value) for value in (0, 7.421, 99.4, 1775.2)] == ["0.00", "7.42", "99.40", "1,775"]
    assert [money_span(ends) for ends in ((3, 1.2), (95.2, 9.4), (1790.1, 1774.9), (50, 50))] == [
        "1.20 to 3.00",
        "9 to 95",
        "1,775 to 1,790",
        "50",
    ]


def test_shares_are_counted_of_a_hundred():
    assert [over_in_words(shares) for shares in ([0.1, 0.013], [0.03, 0.001], [0.02, 0.02])] == [
        "1 to 10 of 100",
        "fewer than 1 to 3 of 100",
        "2 of 100",
    ]
