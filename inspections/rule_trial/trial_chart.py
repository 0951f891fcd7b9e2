"""Each rule a point: cables a year against events with a cable over, with what the readings leave open."""

from dataclasses import dataclass

import numpy as np

from ..axes import Frame, placed, round_ticks
from .question_services import TODAY

FRAME = Frame(width=640, height=360, left=56, right=620, top=28, bottom=300)
MOST_TICKS = 6
# beyond the farthest end of an interval
ROOM = 1.06
# numbers beside their points stand so far apart
APART = 16


@dataclass(frozen=True)
class RulePoint:
    """`cross`: its intervals, across and up; `word_x`, `word_y`: where its number stands, clear of the others."""

    number: int
    words: str
    is_today: bool
    x: float
    y: float
    cross: str
    word_x: float
    word_y: float


@dataclass(frozen=True)
class TrialChart:
    points: tuple[RulePoint, ...]
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

    places = [(x(np.array(a.cables)).tolist(), y(np.array(a.events_over)).tolist()) for _, a in answers]
    words = _clear_of_each_other([(across[0], up[0]) for across, up in places])
    points = (
        RulePoint(number, name.words, name.kind == TODAY, across[0], up[0], _cross(across, up), *word)
        for number, ((name, _), (across, up), word) in enumerate(zip(answers, places, words, strict=True), 1)
    )
    return TrialChart(
        points=tuple(points),
        cable_ticks=placed(x, round_ticks(0, most_cables, most=MOST_TICKS, least_step=0.1)),
        event_ticks=placed(y, round_ticks(0, most_events, most=MOST_TICKS, least_step=0.1)),
    )


def _cross(across, up):
    (x, left, right), (y, low, high) = across, up
    return f"M{left} {y}H{right}M{x} {low}V{high}"


def _clear_of_each_other(points):
    """Of each point where its number stands: right above it, or higher where another number stands there."""
    taken = []
    for x, y in points:
        word_x, word_y = x + 7, y - 7
        while any(abs(word_x - other_x) < APART and abs(word_y - other_y) < APART for other_x, other_y in taken):
            word_y -= APART
        taken.append((word_x, word_y))
    return taken
