"""Where the readings of a cable are drawn against time, and their limit."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.pages.segment.loss_chart import ReadingToDraw, loss_chart

START, TODAY = date(2024, 3, 1), date(2026, 9, 30)
DAYS = st.dates(START, TODAY)


@given(st.lists(st.tuples(DAYS, st.floats(0, 20)), min_size=1, max_size=12), st.floats(0.5, 10))
def test_losses_rise_in_proportion_and_days_run_evenly(pairs, limit_db):
    chart = loss_chart([ReadingToDraw(*pair) for pair in pairs], limit_db, start=START, on=TODAY)
    (low_y, low_db), *_, (high_y, high_db) = chart.loss_ticks
    up = (low_y - high_y) / (high_db - low_db)
    for dot in chart.dots:
        assert low_y - dot.y == pytest.approx((dot.reading.loss_db - low_db) * up, rel=0.02, abs=0.4)
        along = (dot.reading.day - chart.scale.first) / (chart.scale.last - chart.scale.first)
        assert dot.x == pytest.approx(chart.frame.left + along * (chart.frame.right - chart.frame.left), abs=0.06)
        assert chart.frame.top < dot.y <= chart.frame.bottom
    assert chart.frame.top < chart.limit_y < chart.frame.bottom


@given(st.lists(st.tuples(DAYS, st.floats(2.5, 3)), min_size=1, max_size=12))
def test_the_axis_begins_below_the_data_not_at_zero(pairs):
    chart = loss_chart([ReadingToDraw(*pair) for pair in pairs], 3.0, start=START, on=TODAY)
    assert 2.0 < chart.scale.lowest_db < min(loss_db for _, loss_db in pairs)
    assert len(chart.loss_ticks) >= 3


@given(st.dates(date(2000, 1, 1), TODAY), st.none() | st.dates(date(2000, 1, 1), date(2080, 1, 1)))
def test_axes_have_few_round_ticks_within_the_axis(start, due_on):
    chart = loss_chart([], 3.0, start=start, on=TODAY, due_on=due_on)
    assert 1 <= len(chart.day_ticks) <= 8
    assert all(day.day == 1 and chart.frame.left <= x <= chart.frame.right for x, day in chart.day_ticks)
    assert [loss_db for _, loss_db in chart.loss_ticks] == [0, 1, 2, 3]


def test_a_due_date_is_marked_unless_it_is_more_than_five_years_ahead():
    near, far = [loss_chart([], 3.0, start=START, on=TODAY, due_on=day) for day in (date(2027, 3, 1), date(2035, 1, 1))]
    assert near.today_x < near.due_x <= near.frame.right
    assert far.due_x is None


def test_no_signal_stands_at_the_top_and_stretches_nothing():
    chart = loss_chart([ReadingToDraw(TODAY, None)], 3.0, start=START, on=TODAY)
    assert (chart.dots[0].no_signal, chart.dots[0].y) == (True, chart.frame.top)
    assert chart.scale == loss_chart([], 3.0, start=START, on=TODAY).scale


@given(DAYS, st.floats(0.5, 20), st.floats(0.01, 0.4))
def test_a_whisker_reaches_one_standard_uncertainty_to_each_side_and_is_seen_whole(day, loss_db, uncertainty_db):
    read = ReadingToDraw(day, loss_db, uncertainty_db=uncertainty_db)
    chart = loss_chart([read], 3.0, start=START, on=TODAY)
    (low_y, low_db), *_, (high_y, high_db) = chart.loss_ticks
    up = (low_y - high_y) / (high_db - low_db)
    (low, high), y = chart.dots[0].whisker, chart.dots[0].y
    assert (low - y, y - high) == pytest.approx((uncertainty_db * up, uncertainty_db * up), rel=0.03, abs=0.2)
    assert chart.frame.top < high < low <= chart.frame.bottom


def test_what_has_no_number_or_no_uncertainty_has_no_whisker():
    chart = loss_chart(
        [ReadingToDraw(TODAY, None, uncertainty_db=0.2), ReadingToDraw(TODAY, 1.5)], 3.0, start=START, on=TODAY
    )
    assert [dot.whisker for dot in chart.dots] == [(), ()] and not chart.shows_whiskers
