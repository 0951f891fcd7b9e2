"""The fitted line on a segment's drawing: where it stands on a day is what the assessment says of that day."""

import re
from datetime import date, timedelta

import pytest

from inspections.pages.segment.loss_chart import ReadingToDraw, TrendToDraw, loss_chart

FIRST_ON, ON = date(2024, 1, 1), date(2026, 1, 1)


def drawn(expected_on=None, **values):
    trend = TrendToDraw(FIRST_ON, FIRST_ON, 1.0, 0.5, 0.01, 0.0, 0.0, expected_on, **values)
    reading = ReadingToDraw(date(2025, 1, 1), 1.5)
    return loss_chart([reading], 3.0, start=FIRST_ON, on=ON, trend=trend)


def points(path):
    return [tuple(map(float, pair.split())) for pair in re.findall(r"[\d.]+ [\d.]+", path)]


def test_the_line_rises_from_the_first_fitting_at_its_own_rate():
    chart = drawn()
    (x0, y0), (x1, y1) = points(chart.trend_path)[0], points(chart.trend_path)[-1]
    assert (x0, y0) == (chart.scale.x(FIRST_ON), chart.scale.y(1.0))
    years = (chart.scale.last - FIRST_ON).days / 365.25
    assert y1 == pytest.approx(chart.scale.y(1.0 + 0.5 * years), abs=0.11)
    assert x1 == chart.right


def test_the_band_holds_the_line_with_90_percent():
    # 1.6449 standard deviations on each side: the normal's 5 % and 95 % points
    chart = drawn()
    band = points(chart.band_path)
    assert band[0][1] == pytest.approx(chart.scale.y(1.0 + 0.16449), abs=0.11)
    assert band[-1][1] == pytest.approx(chart.scale.y(1.0 - 0.16449), abs=0.11)


def test_an_expected_day_far_ahead_does_not_press_the_readings_into_a_corner():
    assert drawn(expected_on=ON + timedelta(20 * 365)).expected_x is None
    near = drawn(expected_on=ON + timedelta(200))
    assert near.today_x < near.expected_x < near.right


def test_without_a_trend_nothing_is_drawn_of_it():
    chart = loss_chart([ReadingToDraw(ON, 1.5)], 3.0, start=FIRST_ON, on=ON)
    assert (chart.trend_path, chart.band_path) == ("", "")
