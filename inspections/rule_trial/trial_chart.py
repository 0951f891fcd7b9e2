"""Each rule a point: cables a year against events with a cable over, with what the readings leave open."""

from dataclasses import dataclass

import numpy as np

from ..axes import Frame, placed, round_ticks
from .question_services import TODAY

FRAME = Frame(width=640, height=360, left=56, right=620, top=28, bottom=300)
MOST_TICKS = 6
# beyond the farthest end of an interval
ROOM = 1.06
# points nearer than this are named together, as numbers beside each would cover each other
APART = 18


@dataclass(frozen=True)
class RulePoint:
    """`cross`: its intervals, across and up."""

    number: int
    words: str
    is_today: bool
    x: float
    y: float
    cross: str


@dataclass(frozen=True)
class TrialChart:
    """`labels`: (x, y, numbers) of points that stand alone or lie together."""

    points: tuple[RulePoint, ...]
    labels: tuple[tuple[float, float, str], ...]
    cable_ticks: tuple[tuple[float, float], ...]
    event_ticks: tuple[tuple[float, float], ...]
    frame: Frame = FRAME


def trial_chart(answers):
    """TrialChart of (RuleName, RuleAnswer); None for fewer than two."""
    if len(answers) < 2:
        return None
    most_cables = ROOM * max(answer.cables.high for _, answer in answers) or 1.0
    most_events = ROOM * max(answer.events_over.high for _, answer in answers) or 1.0

    def x(cables):
        return FRAME.across(np.asarray(cables) / most_cables)

    def y(events):
        return FRAME.up(np.asarray(events) / most_events)

    points = []
    for number, (name, answer) in enumerate(answers, 1):
        across, up = x(np.array(answer.cables)).tolist(), y(np.array(answer.events_over)).tolist()
        points.append(RulePoint(number, name.words, name.kind == TODAY, across[0], up[0], _cross(across, up)))
    return TrialChart(
        points=tuple(points),
        labels=tuple(_label(together) for together in _together(points)),
        cable_ticks=placed(x, round_ticks(0, most_cables, most=MOST_TICKS, least_step=0.1)),
        event_ticks=placed(y, round_ticks(0, most_events, most=MOST_TICKS, least_step=0.1)),
    )


def _cross(across, up):
    (x, left, right), (y, low, high) = across, up
    return f"M{left} {y}H{right}M{x} {low}V{high}"


def _together(points):
    """Lists of points, each near another of its list."""
    groups = []
    for point in points:
        near = [group for group in groups if any(_is_near(point, other) for other in group)]
        groups = [group for group in groups if group not in near]
        groups.append(sorted(sum(near, [point]), key=lambda each: each.number))
    return groups


def _is_near(point, other):
    return abs(point.x - other.x) < APART and abs(point.y - other.y) < APART


def _label(together):
    """Above the points, from the one furthest left on."""
    numbers = ", ".join(str(point.number) for point in together)
    return min(point.x for point in together) + 5, min(point.y for point in together) - 10, numbers
