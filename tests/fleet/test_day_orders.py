"""Which number of `5/3/26` is the day: what the other days of a column tell, and what has to be asked."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.parsing.day_orders import can_be_both, order_in


@pytest.mark.parametrize(
    ("texts", "order", "both"),
    [
        (["5/3/26", "13/3/26"], "day first", "5/3/26"),
        (["5/3/26", "3/13/2026"], "month first", "5/3/26"),
        (["5/3/26", "6/4/26"], "", "5/3/26"),
        (["13/3/26", "3/13/26"], "", ""),
        (["5/5/26", "14-5-26"], "day first", ""),
        (["03.05.2026", "spring 2023", "2026-05-03"], "", ""),
    ],
)
def test_days_that_can_be_read_in_one_way_only_tell_the_order_of_all(texts, order, both):
    assert (order_in(texts), can_be_both(texts)) == (order, both)


@given(st.lists(st.dates(date(1990, 1, 1), date(2030, 1, 1)), max_size=20))
def test_the_order_told_is_never_another_than_that_in_which_the_days_were_written(days):
    assert order_in([f"{day.day}/{day.month}/{day.year}" for day in days]) in ("", "day first")
