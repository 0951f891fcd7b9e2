"""Labels on sheets: each has its place, and codes and text keep inside it."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sizes import examples

from inspections.labels.fitted_chart import fit_signs, fit_words, width_em
from inspections.labels.grid_choices import READY
from inspections.labels.sheets_chart import Label, label_sheets

GRID = READY["a4-21"]


def labels(count):
    return [Label(f"M-{n:03}", "hill 6 m", f"http://192.168.1.20:8000/mats/M-{n:03}/") for n in range(1, count + 1)]


def names(sheet):
    return [each.label.name for each in sheet.labels]


def test_a_begun_sheet_is_filled_from_the_label_that_is_named():
    first, second = label_sheets(labels(21), GRID, first=20)
    assert names(first) == ["M-001", "M-002"]
    assert [(each.x, each.y) for each in first.labels] == [GRID.corner(19), GRID.corner(20)]
    assert len(second.labels) == 19
    assert (second.labels[0].x, second.labels[0].y) == GRID.corner(0)


def test_no_labels_take_no_sheet():
    assert label_sheets([], GRID) == []


def test_a_printer_that_misses_is_met_by_moving_everything():
    (there,), (moved,) = label_sheets(labels(1), GRID), label_sheets(labels(1), GRID, shift_mm=(1.5, -2))
    was, now = there.labels[0], moved.labels[0]
    assert (now.x - was.x, now.y - was.y) == pytest.approx((1.5, -2))
    assert (now.qr_x - was.qr_x, now.qr_y - was.qr_y) == pytest.approx((1.5, -2))
    assert now.name[0].x - was.name[0].x == pytest.approx(1.5)
    assert now.address[-1].y - was.address[-1].y == pytest.approx(-2)


# drawing a code takes some milliseconds
@settings(max_examples=examples(15))
@given(st.integers(0, 45), st.integers(1, 21))
def test_no_label_is_lost_and_none_shares_its_place(count, first):
    sheets = label_sheets(labels(count), GRID, first=first)
    assert [name for sheet in sheets for name in names(sheet)] == [label.name for label in labels(count)]
    places = [(sheet.number, each.x, each.y) for sheet in sheets for each in sheet.labels]
    assert len(set(places)) == count


typed = st.text(st.characters(categories=["L", "N", "P", "S", "Zs"], exclude_characters="/\\"), min_size=1, max_size=60)
# as codes are checked
typed = typed.filter(lambda text: text == text.strip())


@settings(max_examples=examples(40))
@given(typed, st.sampled_from(list(READY)))
def test_code_and_text_keep_inside_their_label(name, grid):
    grid = READY[grid]
    label = Label(name, "3.50 m · 2.5 mm coax", "https://pool.example.org/mats/" + "x" * 60 + "/")
    (placed,) = label_sheets([label], grid)[0].labels
    right, bottom = placed.x + placed.width, placed.y + placed.height
    assert placed.x <= placed.qr_x and placed.qr_x + placed.qr.side * placed.scale <= right
    assert placed.y <= placed.qr_y and placed.qr_y + placed.qr.side * placed.scale <= bottom
    for line in (*placed.name, *placed.line, *placed.address):
        assert line.size > 0
        assert placed.y <= line.y - line.size and line.y + 0.25 * line.size <= bottom
    for line in placed.name:
        assert line.x + width_em(line.text) * line.size <= right


@given(typed)
def test_text_on_lines_says_what_it_said(text):
    words, signs = fit_words(text, 40, 20, largest_mm=16), fit_signs(text, 40, 20, largest_mm=3)
    assert "".join("".join(words.lines).split()) == "".join(text.split())
    assert "".join(signs.lines) == text


def test_a_short_number_stands_on_one_line_and_a_long_serial_on_several():
    assert fit_words("M-017", 30, 20, largest_mm=16).lines == ("M-017",)
    assert fit_words("FL-2024-00031-A", 30, 20, largest_mm=16).lines == ("FL-2024-", "00031-A")
