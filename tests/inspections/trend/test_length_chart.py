"""Every cable of the pool stands on the drawing of loss against length, however many there are."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.trend.length_chart import BESIDE, length_chart
from inspections.trend.length_selectors import CablePoints, MeanLine

LENGTHS_M = (0.4, 1.1, 3.9)
LINES = [
    MeanLine(name, np.array([0.4, 3.9]), np.array([0.4, 2.6]) + rise)
    for name, rise in (("when fitted", 0.0), ("after 3 years", 0.4))
]
# 1.6449 times 0.15 dB
GUARD_DB = 0.247
cables = st.lists(
    st.tuples(st.sampled_from(LENGTHS_M), st.floats(0, 30), st.booleans(), st.booleans()), min_size=1, max_size=40
)


def points_of(rows):
    length_m, loss_db, read, left_out = (np.array(column) for column in zip(*rows, strict=True))
    return CablePoints(length_m, loss_db, read, left_out & read)


def dots(path):
    return np.array(re.findall(r"M(\d+) (\d+)h0", path), float).reshape(-1, 2)


@given(cables)
def test_every_cable_has_a_dot_at_its_loss_and_beside_its_length(rows):
    points = points_of(rows)
    chart = length_chart(points, LINES, 3.0, GUARD_DB)
    frame, (tick_y, tick_db) = chart.frame, chart.loss_ticks[-1]
    points_a_db = (frame.bottom - tick_y) / tick_db
    at_y = np.clip(frame.bottom - points_a_db * points.loss_db, frame.top, frame.bottom)
    at_x = frame.left + (frame.right - frame.left) * points.length_m / (1.02 * 3.9)
    found = {"read": dots(chart.read_path), "similar": dots(chart.similar_path), "out": np.array(chart.left_out)}
    for x, y, read, out in zip(at_x, at_y, points.read, points.left_out, strict=True):
        kind = found["out" if out else "read" if read else "similar"]
        apart = np.abs(kind - (x, y))
        assert ((apart[:, 0] <= BESIDE / 2 + 1) & (apart[:, 1] <= 1.5)).any()


def test_a_large_pool_is_drawn_as_small_as_its_places():
    rng = np.random.default_rng(3)
    length_m = rng.choice(LENGTHS_M, 100_000)
    loss_db = 0.3 + 0.6 * length_m + rng.normal(0, 0.1, len(length_m))
    everywhere = np.ones(len(length_m), bool)
    chart = length_chart(CablePoints(length_m, loss_db, everywhere, ~everywhere), LINES, 3.0, GUARD_DB)
    assert 100 < len(dots(chart.read_path)) < 3 * (BESIDE + 1) * (chart.frame.bottom - chart.frame.top)


def test_lines_end_at_the_mean_of_the_longest_and_their_words_never_stand_in_each_other():
    near = [MeanLine(name, np.array([1.0, 2.0]), np.array([1.0, 2.0]) + rise) for name, rise in (("a", 0), ("b", 0.01))]
    chart = length_chart(points_of([(2.0, 2.0, True, False)]), near, 3.0, 0.0)
    ends = [float(stroke.path.split()[-1]) for stroke in chart.strokes]
    assert ends[0] - ends[1] == pytest.approx(0.01 / 3.3 * (chart.frame.bottom - chart.frame.top), abs=0.11)
    assert chart.strokes[0].word_y - chart.strokes[1].word_y >= 15


def test_one_absurd_value_leaves_the_others_room():
    rows = [(1.0, 1.0, True, False), (1.0, 1e300, True, False)]
    chart = length_chart(points_of(rows), LINES, 3.0, GUARD_DB)
    assert chart.limit_y < chart.frame.bottom - 10


@given(st.floats(0, 0.6))
def test_the_guard_band_lies_evenly_about_the_limit_and_is_seen_whole(guard_db):
    chart = length_chart(points_of([(1.0, 1.0, True, False)]), LINES, 3.0, guard_db)
    points_a_db = (chart.frame.bottom - chart.limit_y) / 3.0
    over_y, within_y = chart.guard_y
    assert chart.limit_y - over_y == pytest.approx(guard_db * points_a_db, abs=0.2)
    assert within_y - chart.limit_y == pytest.approx(guard_db * points_a_db, abs=0.2)
    assert over_y > chart.frame.top
