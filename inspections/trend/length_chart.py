"""Loss against length: every cable a point, and the mean of each length when fitted and at the ages of the limits."""

from dataclasses import dataclass

import numpy as np

from fleet.figures import two_places

from ..axes import Frame, placed, round_ticks

# at the right the lines are named
FRAME = Frame(width=640, height=330, left=48, right=520, top=28, bottom=270)
MOST_LOSS_TICKS, MOST_LENGTH_TICKS = 6, 8
LEAST_STEP_DB, LEAST_STEP_M = 0.05, 0.1
# what lies higher than so many times the limit is put on the edge: it would press all others to the ground
HIGHEST_LIMITS = 3
# cables of one length stand beside each other over so many points
BESIDE = 12
# steps of this share of a circle spread any number of points evenly
GOLDEN = 0.6180339887
# words at the right ends of lines keep so far apart
WORD_HEIGHT = 17


@dataclass(frozen=True)
class Stroke:
    """`word_y`: where the line is named, clear of the others."""

    name: str
    path: str
    word_y: float


@dataclass(frozen=True)
class LengthChart:
    """`read_path`, `similar_path`: one dot for each place that holds a cable; `left_out`: places; `guard_y`: upper and
    lower edge of what lies so near the limit that a reading decides nothing.
    Ticks: (place, dB) and (place, metres with two places).
    """

    strokes: tuple[Stroke, ...]
    read_path: str
    similar_path: str
    left_out: tuple[tuple[float, float], ...]
    limit_y: float
    guard_y: tuple[float, float]
    loss_ticks: tuple[tuple[float, float], ...]
    length_ticks: tuple[tuple[float, str], ...]
    frame: Frame = FRAME


def length_chart(cables, lines, limit_db, guard_db):
    """LengthChart of CablePoints and MeanLines; losses from zero, what lies outside on the edge.

    `guard_db`: within so much of the limit a reading is undecided.

    However many cables there are, one place holds one dot: the drawing grows with its own size, not with the pool's.
    """
    losses_db = np.concatenate([cables.loss_db, *(line.loss_db for line in lines)])
    highest_db = 1.1 * min(max(limit_db + guard_db, losses_db.max(initial=0.0)), HIGHEST_LIMITS * limit_db)
    longest_m = 1.02 * max([cables.length_m.max(initial=0.1), *(line.length_m.max() for line in lines)])

    def x(length_m):
        return FRAME.across(length_m / longest_m)

    def y(loss_db):
        return FRAME.up(loss_db / highest_db)

    at_x, at_y = x(cables.length_m) + BESIDE * _beside(cables.length_m), y(cables.loss_db)
    in_line = cables.read & ~cables.left_out
    lengths = round_ticks(0, longest_m, most=MOST_LENGTH_TICKS, least_step=LEAST_STEP_M)
    places = list(zip(at_x[cables.left_out].round(1).tolist(), at_y[cables.left_out].round(1).tolist(), strict=True))
    return LengthChart(
        strokes=_strokes(lines, x, y),
        read_path=_dots(at_x[in_line], at_y[in_line]),
        similar_path=_dots(at_x[~cables.read], at_y[~cables.read]),
        left_out=tuple(places),
        limit_y=float(y(limit_db)),
        guard_y=(float(y(limit_db + guard_db)), float(y(limit_db - guard_db))),
        loss_ticks=placed(y, round_ticks(0, highest_db, most=MOST_LOSS_TICKS, least_step=LEAST_STEP_DB)),
        length_ticks=tuple((place, two_places(length_m)) for place, length_m in placed(x, lengths)),
    )


def _beside(length_m):
    """For each cable a share from −1/2 to 1/2, spread evenly over those of its length, whatever their number."""
    order = np.argsort(length_m, kind="stable")
    _, first = np.unique(length_m[order], return_index=True)
    rank = np.empty(len(order), int)
    rank[order] = np.arange(len(order)) - np.repeat(first, np.diff(np.append(first, len(order))))
    return (rank * GOLDEN + 0.5) % 1 - 0.5


def _dots(x, y):
    """One stroke without length for each point of the drawing that holds a cable."""
    places = np.unique(np.column_stack([x, y]).round().astype(int), axis=0)
    return "".join(f"M{each_x} {each_y}h0" for each_x, each_y in places.tolist())


def _strokes(lines, x, y):
    paths = ["M" + "L".join(f"{a} {b}" for a, b in _points(line, x, y)) for line in lines]
    ends = [float(y(line.loss_db[-1])) for line in lines]
    words = _apart(ends)
    return tuple(Stroke(line.name, path, word) for line, path, word in zip(lines, paths, words, strict=True))


def _points(line, x, y):
    return zip(x(line.length_m).tolist(), y(line.loss_db).tolist(), strict=True)


def _apart(ends):
    """The same places, moved up as far as words would otherwise stand in each other."""
    placed, free = [0.0] * len(ends), FRAME.bottom + 0.0
    for row in sorted(range(len(ends)), key=lambda row: -ends[row]):
        placed[row] = round(min(ends[row], free), 1)
        free = placed[row] - WORD_HEIGHT
    return placed
