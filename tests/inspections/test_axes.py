"""Ticks that a person would choose."""

import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as some

from inspections.axes import Frame, month_ticks, placed, round_ticks

FRAME = Frame(width=640, height=320, left=40, right=600, top=20, bottom=280)


@given(some.floats(-2, 3))
def test_shares_run_evenly_within_the_frame_and_stand_on_its_edge_outside(share):
    inside = min(max(share, 0), 1)
    assert FRAME.across(share) == pytest.approx(40 + 560 * inside, abs=0.051)
    assert FRAME.up(share) == pytest.approx(280 - 260 * inside, abs=0.051)


def test_ticks_keep_their_values_beside_their_places():
    assert placed(lambda loss_db: FRAME.up(loss_db / 4), [0, 1, 3]) == ((280, 0), (215, 1), (85, 3))


@pytest.mark.parametrize(
    ("low", "high", "ticks"),
    [
        (0, 3.8, [0, 1, 2, 3]),
        (0, 0.5, [0, 0.1, 0.2, 0.3, 0.4, 0.5]),
        (0, 0.12, [0, 0.1]),
        (0, 47, [0, 10, 20, 30, 40]),
        (-0.24, 0.24, [-0.2, -0.1, 0, 0.1, 0.2]),
    ],
)
def test_ticks_stand_at_round_numbers(low, high, ticks):
    assert round_ticks(low, high, most=5 if low == 0 else 3, least_step=0.1) == ticks


@pytest.mark.parametrize("high", [0.1, 0.9, 1.0, 1.01, 4.99, 5.0, 33.0, 5000.0])
def test_there_are_never_more_steps_than_asked_for(high):
    ticks = round_ticks(0, high, most=6, least_step=0.05)
    assert 2 <= len(ticks) <= 7
    assert ticks[-1] <= high


@pytest.mark.parametrize(
    ("first", "last", "ticks"),
    [
        (date(2026, 1, 2), date(2026, 4, 30), [date(2026, 2, 1), date(2026, 3, 1), date(2026, 4, 1)]),
        (
            date(2025, 11, 1),
            date(2026, 10, 1),
            [date(2026, month, 1) for month in (1, 4, 7, 10)],
        ),
        (date(2020, 6, 15), date(2024, 6, 15), [date(year, 1, 1) for year in (2021, 2022, 2023, 2024)]),
    ],
)
def test_months_stand_at_quarters_and_years_where_there_are_many(first, last, ticks):
    assert month_ticks(first, last, most=5) == ticks


@given(some.floats(), some.floats(), some.floats(0.001, 1))
def test_whatever_the_ends_are_ticks_are_few_and_lie_between(low, high, least_step):
    low, high = (high, low) if high < low else (low, high)
    ticks = round_ticks(low, high, most=5, least_step=least_step)
    assert len(ticks) <= 11
    assert all(math.isfinite(tick) for tick in ticks)


@given(some.dates(), some.dates())
def test_whatever_the_days_are_months_are_few_and_lie_between(one, other):
    first, last = sorted((one, other))
    ticks = month_ticks(first, last, most=5)
    assert len(ticks) <= 6
    assert all(first <= tick <= last for tick in ticks)
