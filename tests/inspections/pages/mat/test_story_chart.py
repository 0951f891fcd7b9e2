"""The story of a mat: each cable, reading, fault and event stands on its day, in its lane."""

import re
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.pages.mat.story_chart import AHEAD, DESK, PHONE, story_chart
from inspections.pages.mat.story_selectors import (
    EventToDraw,
    FaultToDraw,
    FittingToDraw,
    LaneNow,
    ReadingToDraw,
    StoryOfMat,
)
from inspections.templatetags.story_text import story_in_words

ON = date(2026, 11, 28)
FIRST = ON - timedelta(days=1000)
days = st.dates(FIRST, ON)
positions = st.integers(1, 12)


def points(path):
    return [tuple(map(float, point)) for point in re.findall(r"M(-?[\d.]+) (-?[\d.]+)", path)]


def x_of(day, sheet=DESK):
    return sheet.left + (sheet.right - sheet.left) * (day - FIRST) / (ON + AHEAD - FIRST)


def story(**parts):
    lanes = (LaneNow(1, "ok", ON + timedelta(days=100)), LaneNow(2, "change now", FIRST))
    fittings = (FittingToDraw(1, FIRST, None), FittingToDraw(2, FIRST, None))
    return StoryOfMat(**{"on": ON, "lanes": lanes, "fittings": fittings, **parts})


def test_a_cable_runs_from_its_fitting_to_its_removal_and_the_next_one_to_today():
    changed = ON - timedelta(days=400)
    chart = story_chart(
        story(
            fittings=(FittingToDraw(1, FIRST, changed), FittingToDraw(1, changed, None), FittingToDraw(2, FIRST, None))
        )
    )
    lane = chart.lanes[0].y
    assert f"M{DESK.left:.1f} {lane}H{x_of(changed):.1f}" in chart.bars
    assert f"M{x_of(changed):.1f} {lane}H{x_of(ON):.1f}" in chart.bars
    assert points(chart.ends) == [(pytest.approx(x_of(changed), abs=0.06), lane - 6)]


def test_only_what_is_not_due_yet_goes_on_beyond_today():
    chart = story_chart(story())
    assert points(chart.ahead) == [(chart.today_x, chart.lanes[0].y)]
    assert chart.ahead.endswith(f"H{x_of(ON + timedelta(days=100)):.1f}")


@given(rows=st.lists(st.tuples(positions, days, st.sampled_from(["within", "over", "undecided"])), max_size=30))
def test_every_reading_stands_once_on_its_day_in_its_lane(rows):
    chart = story_chart(story(readings=tuple(ReadingToDraw(*row) for row in rows)), PHONE)
    lanes = {lane.now.position: lane.y for lane in chart.lanes}
    assert set(lanes) == {1, 2, *(row[0] for row in rows)}
    drawn = {"within": points(chart.within), "over": points(chart.over)}
    drawn["undecided"] = [(x, y + 4) for x, y in points(chart.undecided)]
    for verdict, found in drawn.items():
        wanted = [(round(x_of(day, PHONE), 1), lanes[number]) for number, day, said in rows if said == verdict]
        assert found == [(pytest.approx(x, abs=0.06), pytest.approx(y)) for x, y in wanted]


def test_a_fault_of_no_position_and_events_have_lanes_of_their_own():
    day, ahead = ON - timedelta(days=30), ON + timedelta(days=20)
    chart = story_chart(
        story(
            faults=(FaultToDraw(2, day), FaultToDraw(None, day)),
            events=(EventToDraw(day, day, "went"), EventToDraw(ahead, ahead, "planned"), EventToDraw(day, ON, "went")),
        )
    )
    crosses = [y + 4 for _, y in points(chart.faults)]
    assert crosses == [chart.lanes[1].y, chart.mat_y]
    assert points(chart.planned) == [(pytest.approx(x_of(ahead), abs=0.06), chart.events_y + 6)]
    assert len(points(chart.went)) == 2
    assert chart.went.count("H") == 1, "a loan is as wide as it lasts"


def test_usual_use_is_no_event_of_a_day_but_lies_along_its_month():
    month = date(2026, 3, 1)
    chart = story_chart(story(events=(EventToDraw(month, month, "went", usual=True),)))
    assert (chart.went, chart.planned) == ("", "")
    begins, ends = map(float, re.fullmatch(r"M([\d.]+) [\d.]+H([\d.]+)", chart.usual).groups())
    assert (begins, ends) == (pytest.approx(x_of(month), abs=0.06), pytest.approx(x_of(date(2026, 4, 1)), abs=0.06))


@pytest.mark.parametrize(
    ("out", "said"),
    [
        ([], "No cable has come out since 3 Mar 2024."),
        ([2], "1 cable came out since 3 Mar 2024, from position 2."),
        ([1, 2], "2 cables came out since 3 Mar 2024, never two from one position."),
        ([1, 2, 2], "3 cables came out since 3 Mar 2024: 2 from position 2, more than from any other."),
        (
            [1, 1, 2, 2, 3],
            "5 cables came out since 3 Mar 2024: 2 each from positions 1 and 2, more than from any other.",
        ),
    ],
)
def test_the_sentence_counts_what_came_out(out, said):
    fittings = tuple(FittingToDraw(number, FIRST, ON - timedelta(days=place)) for place, number in enumerate(out))
    assert story_in_words(story(fittings=(FittingToDraw(9, FIRST, None), *fittings))) == said.format("3 Mar 2024")
