"""The shift of each bench day with its uncertainty, those that are named marked."""

import re
from datetime import date, timedelta
from typing import NamedTuple

import pytest

from inspections.trend.day_chart import day_chart

FIRST = date(2024, 5, 1)


class Day(NamedTuple):
    measured_on: date
    shift_db: float
    shift_sd_db: float


DAYS = [Day(FIRST + timedelta(100 * number), shift, 0.02) for number, shift in enumerate((0.05, -0.2, 0.0, 0.38))]


def test_each_day_stands_at_its_shift_and_reaches_as_far_as_its_uncertainty():
    chart = day_chart(DAYS, named=[DAYS[3]])
    up = (chart.zero_y - chart.frame.top) / 0.4
    spreads = [tuple(map(float, each)) for each in re.findall(r"M([\d.]+) ([\d.]+)V([\d.]+)", chart.spread_path)]
    assert len(spreads) == chart.days == 4
    for (_, low, high), day in zip(spreads, DAYS, strict=True):
        assert (low + high) / 2 == pytest.approx(chart.zero_y - up * day.shift_db, abs=0.2)
        assert low - high == pytest.approx(2 * up * 0.02, abs=0.2)
    assert [x for x, _, _ in spreads] == sorted(x for x, _, _ in spreads)


def test_a_named_day_carries_a_mark_and_no_dot():
    chart = day_chart(DAYS, named=[DAYS[3]])
    assert len(chart.marks) == 1 and chart.dot_path.count("h0") == 3
    assert chart.marks[0].y == pytest.approx(chart.zero_y - (chart.zero_y - chart.frame.top) / 0.4 * 0.38, abs=0.1)


def test_a_single_day_and_none():
    assert day_chart(DAYS[:1]).days == 1
    assert day_chart([]) is None
