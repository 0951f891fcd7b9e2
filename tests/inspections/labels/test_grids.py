"""Sheets of labels by their measures: labels lie on the paper, apart, and are counted along the rows."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from inspections.labels.grid_choices import A4, LETTER, PAPERS_MM, READY, RULER_MM, LabelGrid

lengths = st.floats(0, 120)
grids = st.builds(
    LabelGrid,
    st.sampled_from([A4, LETTER]),
    st.integers(1, 12),
    st.integers(1, 20),
    st.floats(8, 210),
    st.floats(8, 290),
    lengths,
    lengths,
    lengths,
    lengths,
)


def boxes(grid):
    corners = map(grid.corner, range(grid.size))
    return [(x, y, x + grid.width_mm, y + grid.height_mm) for x, y in corners]


def is_on_paper(box, paper_mm, by=0.0):
    return min(box[:2]) >= -by and box[2] <= paper_mm[0] + by and box[3] <= paper_mm[1] + by


@pytest.mark.parametrize("grid", READY.values(), ids=READY)
def test_labels_of_the_ready_sheets_lie_on_their_paper_and_apart(grid):
    on_sheet = boxes(grid)
    assert all(is_on_paper(box, grid.paper_mm) for box in on_sheet)
    assert not any(overlap(a, b) for n, a in enumerate(on_sheet) for b in on_sheet[:n])


@pytest.mark.parametrize("grid", READY.values(), ids=READY)
def test_the_ready_sheets_leave_as_much_paper_at_the_right_as_at_the_left(grid):
    """Such sheets are cut alike from both sides: a mistyped measure would move them off the middle."""
    last = boxes(grid)[-1]
    width, height = grid.paper_mm
    assert width - last[2] == pytest.approx(grid.left_mm, abs=RULER_MM)
    assert height - last[3] == pytest.approx(grid.top_mm, abs=RULER_MM)


@given(grids)
def test_a_grid_fits_on_the_paper_just_when_every_label_does(grid):
    fits = max(grid.beyond) <= 0
    close = any(abs(by) < 1e-6 for by in grid.beyond)
    assert close or fits == all(is_on_paper(box, grid.paper_mm) for box in boxes(grid))


@given(grids, st.data())
def test_labels_are_counted_along_the_rows(grid, data):
    assume(grid.size > 1)
    place = data.draw(st.integers(1, grid.size - 1))
    (x, y), (before_x, before_y) = grid.corner(place), grid.corner(place - 1)
    assert (y > before_y and x == grid.left_mm) if place % grid.columns == 0 else (y == before_y and x > before_x)


def test_papers_are_those_of_the_standards():
    """ISO 216:2007, A4: 210 mm × 297 mm. Letter: 8.5 in × 11 in (ANSI/ASME Y14.1, size A), of 25.4 mm; from memory."""
    assert {"A4": (210, 297), "Letter": (pytest.approx(8.5 * 25.4), pytest.approx(11 * 25.4))} == PAPERS_MM


def overlap(a, b):
    return a[0] < b[2] - 1e-9 and b[0] < a[2] - 1e-9 and a[1] < b[3] - 1e-9 and b[1] < a[3] - 1e-9
