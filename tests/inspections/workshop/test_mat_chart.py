"""Drawings in proportion: what is twice as long is drawn twice as long."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.workshop.mat_chart import (
    CHARACTER,
    FOLD_LABEL_ROOM,
    LEFT,
    RIGHT,
    PositionToDraw,
    mat_drawing,
)

LENGTHS = st.lists(st.floats(0.1, 12), min_size=1, max_size=16)


def positions(lengths_m, **values):
    return [PositionToDraw(number, length_m, **values) for number, length_m in enumerate(lengths_m, 1)]


@given(LENGTHS, st.floats(0.5, 12), st.lists(st.floats(0.05, 11), max_size=8, unique=True))
def test_cables_folds_and_width_are_drawn_to_one_scale(lengths_m, width_m, folds_m):
    drawing = mat_drawing(width_m, sorted(folds_m), positions(lengths_m))
    for cable in drawing.cables:
        assert cable.x - LEFT == pytest.approx(cable.position.length_m * drawing.px_per_m, abs=0.06)
    for fold in drawing.folds:
        assert fold.x - LEFT == pytest.approx(fold.distance_m * drawing.px_per_m, abs=0.06)
    assert drawing.right - LEFT == pytest.approx(width_m * drawing.px_per_m, abs=0.06)


@given(
    st.lists(st.integers(1, 120).map(lambda decimetres: decimetres / 10), min_size=1, max_size=16),
    st.none() | st.floats(0.5, 12),
    st.lists(st.floats(0.05, 20), max_size=8, unique=True),
)
def test_nothing_is_drawn_outside_the_view(lengths_m, width_m, folds_m):
    drawing = mat_drawing(width_m, sorted(folds_m), positions(lengths_m, label="2.64 dB", status="ok"))
    far = drawing.columns.far
    assert LEFT < drawing.right <= far
    assert all(LEFT < fold.x <= far for fold in drawing.folds)
    for cable in drawing.cables:
        assert LEFT < cable.x <= far and 0 < cable.share <= 100
        assert drawing.top < cable.y < drawing.bottom < drawing.height


@given(LENGTHS, st.lists(st.sampled_from(["", "2.64 dB", "not measured", "no signal"]), min_size=1, max_size=16))
def test_words_stand_in_columns_beyond_the_mat_and_none_reaches_into_another(lengths_m, labels):
    drawing = mat_drawing(
        6.0,
        [1.0],
        [PositionToDraw(number, *pair) for number, pair in enumerate(zip(lengths_m, labels, strict=False), 1)],
    )
    columns = drawing.columns
    for position in (cable.position for cable in drawing.cables):
        assert columns.far < columns.number_x - CHARACTER * len(str(position.number))
        assert columns.number_x < columns.length_x - CHARACTER * len(position.length_in_short)
        if not columns.said_once:
            assert not position.label or columns.length_x < columns.label_x - CHARACTER * len(position.label)
    assert columns.label_x == RIGHT < drawing.width


def test_what_all_positions_say_alike_is_said_once():
    alike = mat_drawing(2.0, [1.0], positions([0.6, 1.1], label="not measured"))
    assert (alike.columns.said_once, alike.columns.length_x) == ("not measured", RIGHT)
    unlike = mat_drawing(2.0, [1.0], [PositionToDraw(1, 0.6, "1.10 dB"), PositionToDraw(2, 1.1, "not measured")])
    assert unlike.columns.said_once == "" and unlike.columns.length_x < RIGHT
    assert mat_drawing(2.0, [1.0], positions([0.6], label="1.10 dB")).columns.said_once == ""


def test_positions_are_drawn_in_their_order_one_below_the_other():
    drawing = mat_drawing(2.0, [1.0], [PositionToDraw(3, 1.6), PositionToDraw(1, 0.6), PositionToDraw(2, 1.1)])
    assert [cable.position.number for cable in drawing.cables] == [1, 2, 3]
    rows = [cable.y for cable in drawing.cables]
    assert rows == sorted(set(rows))


@pytest.mark.parametrize(
    ("width_m", "folds_m", "to_scale"), [(2.0, [1.0], True), (None, [1.0], False), (2.0, [], False), (None, [], False)]
)
def test_a_mat_of_unknown_width_or_folds_is_not_to_scale(width_m, folds_m, to_scale):
    assert mat_drawing(width_m, folds_m, positions([0.6, 1.1])).to_scale is to_scale


def test_without_a_width_cables_keep_their_proportions():
    short, long = mat_drawing(None, [], positions([1.0, 2.0])).cables
    assert (long.x - LEFT) == 2 * (short.x - LEFT)


def test_a_cable_longer_than_the_mat_is_wide_is_said_to_end_beyond_it():
    assert mat_drawing(2.0, [1.0], positions([2.1])).beyond
    assert not mat_drawing(2.0, [1.0], positions([2.0])).beyond


def test_labels_of_folds_that_lie_close_do_not_touch():
    folds = mat_drawing(6.0, [1.0, 1.1, 1.2, 1.3, 3.0], positions([1.0])).folds
    assert folds[3].label_y is None and folds[4].label_y == folds[0].label_y
    for fold in folds:
        row = [other.x for other in folds if other.label_y == fold.label_y and other is not fold and fold.label_y]
        assert all(abs(fold.x - x) >= FOLD_LABEL_ROOM - 0.1 for x in row)


def test_a_mat_without_positions_is_an_empty_outline():
    drawing = mat_drawing(2.0, [1.0], [])
    assert drawing.cables == () and drawing.bottom > drawing.top
