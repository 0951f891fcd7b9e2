"""Drawings in proportion: what is twice as long is drawn twice as long."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.workshop.mat_chart import (
    CHARACTER,
    FOLD_LABEL_ROOM,
    LEFT,
    RIGHT,
    ROW,
    TIGHT_ROW,
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
    assert drawing.right <= RIGHT
    assert all(LEFT < fold.x <= RIGHT for fold in drawing.folds)
    for cable in drawing.cables:
        words = CHARACTER * len(f"{cable.position.number}: {cable.position.length_m:g} m, 2.64 dB")
        assert LEFT < cable.x <= RIGHT
        assert drawing.top < cable.y < drawing.bottom < drawing.height
        assert cable.text_x - words >= LEFT if cable.before else cable.text_x + words <= RIGHT


@pytest.mark.parametrize(("row", "mark"), [(ROW, 12), (ROW, 18), (TIGHT_ROW, 14)])
@given(LENGTHS)
def test_what_stands_beside_a_cable_covers_no_line_mark_or_words_of_another(row, mark, lengths_m):
    cables = mat_drawing(6.0, [1.0], positions(lengths_m), mark=mark, row=row).cables
    for above, below in pairwise(cables):
        assert above.plate_y + above.plate_height <= min(below.y - mark / 2, below.plate_y)
        assert below.plate_y >= above.y + mark / 2


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
