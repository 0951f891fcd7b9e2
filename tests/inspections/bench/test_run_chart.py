"""The run chart of a reference piece: what counts, what lies beyond its limits, where another value begins."""

from datetime import date, timedelta
from types import SimpleNamespace

from inspections.bench.pieces.run_chart import FRAME, run_chart

DAY = date(2026, 1, 1)


def read(back, off_db, *, limit_db=0.15, counts=True, value=1, agreed_on=DAY):
    agreed = None if off_db is None else SimpleNamespace(pk=value, agreed_on=agreed_on)
    return SimpleNamespace(
        reading=SimpleNamespace(measured_on=DAY + timedelta(back)),
        value=agreed,
        difference_db=off_db,
        sd_db=limit_db / 3,
        limit_db=limit_db,
        counts=counts,
        is_beyond=off_db is not None and abs(off_db) > limit_db,
    )


def test_marks_lie_within_the_drawing_in_order_of_their_days_and_higher_ones_above():
    chart = run_chart([read(0, 0.1), read(10, -0.2), read(300, 0.0)])
    assert [mark.x for mark in chart.marks] == sorted(mark.x for mark in chart.marks)
    assert all(FRAME.left < mark.x < FRAME.right and FRAME.top <= mark.y <= FRAME.bottom for mark in chart.marks)
    high, low, none = (mark.y for mark in chart.marks)
    assert high < none == chart.zero_y < low
    assert ([mark.beyond for mark in chart.marks], chart.beyond) == ([False, True, False], 1)


def test_limits_step_where_they_change_and_a_new_value_is_marked():
    renewed = DAY + timedelta(50)
    chart = run_chart([read(0, 0.0), read(100, 0.0, limit_db=0.3, value=2, agreed_on=renewed)])
    assert [day for _, day in chart.steps] == [renewed]
    ((x, _),) = chart.steps
    first, second = (mark.x for mark in chart.marks)
    assert abs(x - (first + second) / 2) < 1
    # a side starts at one height and ends at another, twice
    assert chart.action_path.count("M") == 2 and chart.action_path.count("V") == 4


def test_an_earlier_reading_of_a_day_is_drawn_apart_and_has_no_limit_of_its_own():
    chart = run_chart([read(0, 0.4, counts=False), read(0, 0.0), read(30, 0.0)])
    assert [mark.earlier for mark in chart.marks] == [True, False, False]
    assert chart.action_path == run_chart([read(0, 0.0), read(0, 0.4, counts=False), read(30, 0.0)]).action_path


def test_without_an_agreed_value_nothing_is_drawn_and_one_reading_stands_in_the_middle():
    assert run_chart([]) is run_chart([read(0, None)]) is None
    (mark,) = run_chart([read(0, 0.05)], of_day=DAY).marks
    assert abs(mark.x - (FRAME.left + FRAME.right) / 2) < 1


def test_the_bench_day_of_the_page_is_marked_where_it_lies_within():
    reads = [read(0, 0.0), read(100, 0.0)]
    assert run_chart(reads, DAY + timedelta(100)).of_day == run_chart(reads).marks[1].x
    assert run_chart(reads, DAY - timedelta(1)).of_day is None
