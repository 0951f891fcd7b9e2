"""The loss of the cable itself on its drawing: where line and band stand is what the model says of that day."""

import re
from datetime import date, timedelta

import numpy as np
import pytest

from inspections.pages.segment.loss_chart import BAND_SDS, Drawn, ReadingToDraw, TrendToDraw, loss_chart

FIRST_ON, READ_ON, ON = date(2024, 1, 1), date(2025, 1, 1), date(2026, 1, 1)


READ_ONCE = [ReadingToDraw(READ_ON, 1.5)]


def years(day):
    return (day - FIRST_ON).days / 365.25


def path(days):
    """0.5 dB a year from 1 dB on; it wanders by 0.1 dB in a year from the last reading on."""
    t = np.array([years(day) for day in days])
    return 1.0 + 0.5 * t, np.sqrt(0.01 + 0.01 * np.maximum(t - years(READ_ON), 0))


def drawn(expected_on=None, readings=READ_ONCE, **values):
    trend = TrendToDraw(FIRST_ON, path, READ_ON, expected_on, **values)
    return loss_chart(readings, 3.0, start=FIRST_ON, on=ON, trend=trend)


def points(path):
    return [tuple(map(float, pair.split())) for pair in re.findall(r"[\d.]+ [\d.]+", path)]


def test_the_line_rises_from_the_first_fitting_as_the_model_says():
    chart = drawn()
    first, last = points(chart.trend_path)[0], points(chart.ahead_path)[-1]
    assert first == (chart.scale.x(FIRST_ON), chart.scale.y(1.0))
    assert last == (chart.frame.right, chart.scale.y(1.0 + 0.5 * years(chart.scale.last)))


def test_from_the_last_reading_on_it_is_drawn_as_a_forecast():
    chart = drawn()
    turn = (chart.scale.x(READ_ON), chart.scale.y(1.0 + 0.5 * years(READ_ON)))
    assert points(chart.trend_path)[-1] == points(chart.ahead_path)[0] == turn


def test_the_band_holds_the_loss_with_90_percent_and_widens_where_it_wanders():
    # 1.6449 standard deviations on each side: the normal's 5 % and 95 % points
    chart = drawn()
    band = points(chart.band_path)
    assert band[0][1] == chart.scale.y(1.0 + 0.16449)
    assert band[-1][1] == chart.scale.y(1.0 - 0.16449)
    right = [y for x, y in band if x == chart.frame.right]
    (_, last_sd) = path([chart.scale.last])
    db_a_point = (chart.scale.highest_db - chart.scale.lowest_db) / (chart.frame.bottom - chart.frame.top)
    drawn_db = (max(right) - min(right)) * db_a_point
    assert drawn_db == pytest.approx(2 * BAND_SDS * last_sd.item(), abs=0.02)


def test_each_day_of_a_reading_is_a_point_of_the_line_for_there_wander_bends_it():
    days = [FIRST_ON + timedelta(number) for number in (13, 111, 222)]
    chart = drawn(readings=[ReadingToDraw(day, 1.5) for day in days])
    at = {x for x, _ in points(chart.trend_path)}
    assert {chart.scale.x(day) for day in days} <= at


def test_a_reading_stands_twice_as_it_was_read_and_without_the_shift_of_its_day():
    chart = drawn(readings=[ReadingToDraw(READ_ON, 1.5, shift_db=0.2, shift_sd_db=0.04)])
    dot = chart.dots[0]
    assert (dot.y, dot.own_y) == (chart.scale.y(1.5), chart.scale.y(1.3))
    assert chart.takes_shifts_out and not (chart.shows_alone or chart.shows_out or chart.shows_apart)


def test_a_reading_whose_bench_day_has_no_known_shift_stands_alone():
    both = [ReadingToDraw(FIRST_ON, 1.1), ReadingToDraw(READ_ON, 1.5, shift_db=0.2, shift_sd_db=0.04)]
    chart = drawn(readings=both)
    assert chart.shows_alone and [dot.own_y is None for dot in chart.dots] == [True, False]


@pytest.mark.parametrize("kind", [Drawn.OUT, Drawn.APART])
def test_of_a_reading_that_has_no_part_in_the_line_no_shift_is_taken_out(kind):
    chart = drawn(readings=[ReadingToDraw(READ_ON, 1.5, kind, shift_db=0.2, shift_sd_db=0.04)])
    assert chart.dots[0].own_y is None
    assert (chart.shows_out, chart.shows_apart) == (kind == Drawn.OUT, kind == Drawn.APART)


def test_an_expected_day_far_ahead_does_not_press_the_readings_into_a_corner():
    assert drawn(expected_on=ON + timedelta(20 * 365)).expected_x is None
    near = drawn(expected_on=ON + timedelta(200))
    assert near.today_x < near.expected_x < near.frame.right


def test_without_a_trend_nothing_is_drawn_of_it():
    chart = loss_chart([ReadingToDraw(ON, 1.5)], 3.0, start=FIRST_ON, on=ON)
    assert (chart.trend_path, chart.ahead_path, chart.band_path) == ("", "", "")


def test_the_table_gives_line_and_band_where_the_drawing_has_them():
    chart = drawn(expected_on=ON + timedelta(200))
    days = {row.day for row in chart.line_rows}
    assert {ON, ON + timedelta(200)} <= days and {day for _, day in chart.day_ticks if day >= FIRST_ON} <= days
    assert all(row.ahead == (row.day > READ_ON) for row in chart.line_rows)
    drawn_points = points(chart.trend_path) + points(chart.ahead_path)
    for row in chart.line_rows:
        mean, sd = (each.item() for each in path([row.day]))
        assert row.loss_db == pytest.approx(mean)
        assert (row.low_db, row.high_db) == pytest.approx((mean - 1.6449 * sd, mean + 1.6449 * sd), abs=1e-4)
        place = chart.scale.x(row.day)
        on_line = np.interp(place, *zip(*drawn_points, strict=True))
        assert on_line == pytest.approx(chart.scale.y(row.loss_db), abs=1)
