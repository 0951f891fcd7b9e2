"""Out and in: each change a line from what the old cable lost last to what the new one lost first, in their order."""

import math
from dataclasses import dataclass

from ..axes import Frame, placed, round_ticks

FRAME = Frame(width=640, height=300, left=48, right=630, top=28, bottom=250)
MOST_LOSS_TICKS, LEAST_STEP_DB = 6, 0.05
# below and above the losses
AIR_DB = 0.1
# years are named no closer than this
YEAR_ROOM = 56


@dataclass(frozen=True)
class ChangeChart:
    """`lines`, `out_dots`, `in_dots`: paths. `no_signal`: places at the upper edge. Ticks: (place, its word)."""

    lines: str
    out_dots: str
    in_dots: str
    no_signal: tuple[float, ...]
    limit_y: float
    loss_ticks: tuple[tuple[float, float], ...]
    year_ticks: tuple[tuple[float, int], ...]
    frame: Frame = FRAME


def change_chart(changes):
    """ChangeChart of Changes whose old cable was measured; None where none was.

    Each has a place of its own: on one day many are changed, and would lie on each other.
    """
    shown = sorted(changes.read, key=lambda change: (change.removed_on, change.out_db or math.inf))
    if not shown:
        return None
    losses_db = [loss for change in shown for loss in (change.out_db, change.in_db) if loss is not None]
    low_db = max(0, min([*losses_db, changes.limit_db]) - AIR_DB)
    high_db = max([*losses_db, changes.limit_db]) + AIR_DB
    places = [(float(FRAME.across((n + 0.5) / len(shown))), change) for n, change in enumerate(shown)]

    def y(loss_db):
        return float(FRAME.up((loss_db - low_db) / (high_db - low_db)))

    ticks = round_ticks(0, high_db, most=MOST_LOSS_TICKS, least_step=LEAST_STEP_DB)
    return ChangeChart(
        lines="".join(_line(x, change, y) for x, change in places),
        out_dots=_dots((x, y(change.out_db)) for x, change in places if change.out_db is not None),
        in_dots=_dots((x, y(change.in_db)) for x, change in places if change.in_db is not None),
        no_signal=tuple(x for x, change in places if change.no_signal),
        limit_y=y(changes.limit_db),
        loss_ticks=placed(y, [tick for tick in ticks if tick >= low_db]),
        year_ticks=tuple(_years(places)),
    )


def _years(places):
    """Each year at its first change, where there is room for its name."""
    named, last_x = None, -math.inf
    for x, change in places:
        if change.removed_on.year != named and x - last_x >= YEAR_ROOM:
            named, last_x = change.removed_on.year, x
            yield x, named


def _line(x, change, y):
    if change.in_db is None:
        return ""
    return f"M{x} {FRAME.top if change.no_signal else y(change.out_db)}V{y(change.in_db)}"


def _dots(places):
    """Strokes without length: each is a dot."""
    return "".join(f"M{x} {y}h0" for x, y in places)
