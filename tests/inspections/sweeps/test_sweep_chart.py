"""The picture of loss over frequency: what it leaves out of a long sweep, and how its lines are told apart."""

from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.sweeps.curve_services import Curve
from inspections.sweeps.sweep_chart import LABEL_STEP, MOST_COLUMNS, sweep_chart, sweep_rows


def curve(losses, low=800, high=1000, day=date(2026, 5, 2)):
    return Curve(SimpleNamespace(measured_on=day), np.linspace(low, high, len(losses)), np.array(losses, float))


def points_of(line):
    return [tuple(map(float, point.split())) for point in line.path.removeprefix("M").split("L")]


def test_a_dip_of_one_point_in_a_long_sweep_is_still_drawn():
    losses = np.full(20_000, 1.0)
    losses[7_777] = 2.9
    chart = sweep_chart([curve(losses)], limit_db=3, reference_mhz=900)
    points = points_of(chart.lines[0])
    assert len(points) <= 2 * MOST_COLUMNS + 2
    # within a tenth of a unit, to which places are rounded
    top_of_limit, at_zero = chart.limit[0], chart.frame.bottom
    expected = at_zero - (at_zero - top_of_limit) * 2.9 / 3
    assert min(height for _x, height in points) == pytest.approx(expected, abs=0.15)


@given(
    st.lists(st.lists(st.floats(-0.5, 60), min_size=2, max_size=40), min_size=1, max_size=5),
    st.floats(1, 5000),
    st.floats(0.01, 15_000),
)
def test_every_curve_stays_inside_the_axes_and_labels_do_not_lie_on_each_other(sweeps, low, span):
    chart = sweep_chart([curve(losses, low, low + span) for losses in sweeps], limit_db=3, reference_mhz=900)
    for line in chart.lines:
        for x, y in points_of(line):
            assert chart.frame.left <= x <= chart.frame.right
            assert chart.frame.top - 0.1 <= y <= chart.frame.bottom + 0.1
    heights = sorted(line.label_y for line in chart.lines)
    assert all(np.diff(heights) >= LABEL_STEP - 1e-9)
    assert len({line.style for line in chart.lines}) == len(chart.lines)
    assert len(chart.frequencies) <= 11


def test_a_sweep_of_one_point_has_no_curve():
    assert sweep_chart([curve([1.3], 900, 900)], limit_db=3, reference_mhz=900) is None


def test_the_table_says_nothing_where_an_earlier_sweep_does_not_reach():
    rows = sweep_rows([curve([1.0, 2.0], 800, 1000), curve([1.0, 1.0], 900, 1000)])
    assert rows == [(800.0, [1.0, None]), (1000.0, [2.0, 1.0])]
