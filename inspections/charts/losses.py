"""Loss against time: readings as dots, the limit, the due date. Its scale takes whatever else is drawn over it."""

import math
from dataclasses import dataclass
from datetime import date, timedelta

WIDTH, HEIGHT = 760, 330
LEFT, RIGHT, TOP, BOTTOM = 56, 744, 34, 284
# a due date farther away than this would press all readings into a corner: it is told, not drawn
FARTHEST = timedelta(days=5 * 366)
SHORTEST = timedelta(days=180)
MOST_TICKS = 7
TICK_MONTHS = (1, 3, 6, 12, 24, 60, 120)
TICK_DB = (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50)


@dataclass(frozen=True)
class ReadingToDraw:
    """`loss_db` None: no through. `hollow`: taken back, or as found before cleaning."""

    day: date
    loss_db: float | None
    hollow: bool = False


@dataclass(frozen=True)
class LossScale:
    """From days and dB to points; what lies outside is put on the edge."""

    first: date
    last: date
    highest_db: float

    def x(self, day):
        share = (day - self.first) / (self.last - self.first)
        return round(LEFT + (RIGHT - LEFT) * min(max(share, 0), 1), 1)

    def y(self, loss_db):
        return round(BOTTOM - (BOTTOM - TOP) * min(max(loss_db / self.highest_db, 0), 1), 1)


@dataclass(frozen=True)
class Dot:
    reading: ReadingToDraw
    x: float
    y: float

    @property
    def no_through(self):
        return self.reading.loss_db is None


@dataclass(frozen=True)
class LossChart:
    """`day_ticks`: (x, first day of a month); `loss_ticks`: (y, dB). `due_x` None: no due date, or too far ahead."""

    scale: LossScale
    limit_db: float
    limit_y: float
    today_x: float
    due_x: float | None
    due_before: bool
    day_ticks: tuple[tuple[float, date], ...]
    loss_ticks: tuple[tuple[float, float], ...]
    dots: tuple[Dot, ...]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = RIGHT
    top: int = TOP
    bottom: int = BOTTOM


def loss_chart(readings, limit_db, *, start, on, due_on=None):
    """Readings from `start` (first fitted) to `on` or the due date, losses in dB from zero; no through stands on top."""
    due_on = due_on if due_on and due_on <= on + FARTHEST else None
    scale = _scale(readings, limit_db, start, on, due_on)
    due_x = due_on and scale.x(due_on)
    return LossChart(
        scale=scale,
        limit_db=limit_db,
        limit_y=scale.y(limit_db),
        today_x=scale.x(on),
        due_x=due_x,
        due_before=bool(due_x) and due_x > (LEFT + RIGHT) / 2,
        day_ticks=tuple((scale.x(day), day) for day in _month_ticks(scale.first, scale.last)),
        loss_ticks=tuple((scale.y(loss_db), loss_db) for loss_db in _loss_ticks(scale.highest_db)),
        dots=tuple(
            Dot(reading, scale.x(reading.day), TOP if reading.loss_db is None else scale.y(reading.loss_db))
            for reading in readings
        ),
    )


def _scale(readings, limit_db, start, on, due_on):
    days = [reading.day for reading in readings] + [start, on] + ([due_on] if due_on else [])
    first, last = min(days), max(days)
    last = max(last + (last - first) * 0.04, first + SHORTEST)
    losses_db = [reading.loss_db for reading in readings if reading.loss_db is not None]
    return LossScale(first, last, 1.1 * max([1.15 * limit_db, *losses_db]))


def _month_ticks(first, last):
    months = (last.year - first.year) * 12 + last.month - first.month
    step = next((step for step in TICK_MONTHS if months / step <= MOST_TICKS), TICK_MONTHS[-1])
    start = -(-(first.year * 12 + first.month - 1 + (first.day > 1)) // step) * step
    number, ticks = start, []
    while (day := date(number // 12, number % 12 + 1, 1)) <= last:
        ticks.append(day)
        number += step
    return ticks


def _loss_ticks(highest_db):
    step = next((step for step in TICK_DB if highest_db / step <= MOST_TICKS), TICK_DB[-1])
    return [round(step * number, 6) for number in range(math.floor(highest_db / step) + 1)]
