"""Loss against time: readings as dots, the fitted line with its band, the limit, the due and the expected date."""

import math
from dataclasses import dataclass
from datetime import date, timedelta

from ...axes import month_ticks, round_ticks
from ...numeric.calendar import DAYS_A_YEAR
from ...numeric.single_segments import band_standard_errors
from ...validators import LARGEST_LOSS_DB

WIDTH, HEIGHT = 640, 320
# at the right the limit is named, where neither a dot nor a date can lie
LEFT, RIGHT, TOP, BOTTOM = 48, 576, 44, 280
# a due date farther away than this would press all readings into a corner: it is given in words, not drawn
FARTHEST = timedelta(days=5 * 366)
SHORTEST = timedelta(days=180)
# what *no signal* takes up beside its dot
WORD_WIDTH = 116
# the line lies in the band of so many standard deviations with 90 %
BAND_SDS = 1.6449
TREND_POINTS = 24
MOST_TICKS = 5
LEAST_STEP_DB = 0.1


@dataclass(frozen=True)
class ReadingToDraw:
    """`loss_db` None: no signal. `hollow`: void, or as found before cleaning."""

    day: date
    loss_db: float | None
    hollow: bool = False


@dataclass(frozen=True)
class TrendToDraw:
    """A line from `first_on` on: means and covariance of (level dB, rate dB a year) on the day `level_on`."""

    first_on: date
    level_on: date
    level_db: float
    rate_db: float
    c00: float
    c01: float
    c11: float
    expected_on: date | None = None
    band_sds: float = BAND_SDS

    def at(self, day):
        """Mean and standard deviation of the line on that day, dB."""
        t = (day - self.level_on).days / DAYS_A_YEAR
        return self.level_db + self.rate_db * t, math.sqrt(max(self.c00 + t * (2 * self.c01 + t * self.c11), 0))


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

    @property
    def loss_ticks(self):
        return round_ticks(0, self.highest_db, most=MOST_TICKS, least_step=LEAST_STEP_DB)


@dataclass(frozen=True)
class Dot:
    reading: ReadingToDraw
    x: float
    y: float

    @property
    def no_signal(self):
        return self.reading.loss_db is None

    @property
    def word_before(self):
        """Its word has no room behind it."""
        return self.x > RIGHT - WORD_WIDTH


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
    trend_path: str = ""
    band_path: str = ""
    expected_x: float | None = None
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = RIGHT
    top: int = TOP
    bottom: int = BOTTOM


def trend_to_draw(row, first_on, *, alone=False):
    """The line that an assessment gives its segment; None without one.

    `alone`: without a model of the pool, so that its few readings must give their own scatter.
    """
    if row is None or row.trend_rate_db is None:
        return None
    covariance = row.trend_c00, row.trend_c01, row.trend_c11
    band_sds = band_standard_errors(row.trend_readings) if alone else BAND_SDS
    level_on = row.trend_level_on or first_on
    return TrendToDraw(
        first_on, level_on, row.trend_level_db, row.trend_rate_db, *covariance, row.trend_expected_on, band_sds
    )


def loss_chart(readings, limit_db, *, start, on, due_on=None, trend=None):
    """Readings from `start` (first fitted) to `on` or the due date, losses in dB from zero; no signal on top.

    `trend`, a TrendToDraw, is drawn with its band as far as the expected date where that is near enough.
    """
    due_on = _near(due_on, on)
    expected_on = _near(trend and trend.expected_on, on)
    scale = _scale(readings, limit_db, start, on, [day for day in (due_on, expected_on) if day])
    due_x = due_on and scale.x(due_on)
    mean, band = _mean_and_band(trend, scale) if trend else ("", "")
    return LossChart(
        scale=scale,
        limit_db=limit_db,
        limit_y=scale.y(limit_db),
        today_x=scale.x(on),
        due_x=due_x,
        due_before=bool(due_x) and due_x > (LEFT + RIGHT) / 2,
        day_ticks=tuple((scale.x(day), day) for day in month_ticks(scale.first, scale.last, most=MOST_TICKS)),
        loss_ticks=tuple((scale.y(loss_db), loss_db) for loss_db in scale.loss_ticks),
        dots=tuple(
            Dot(reading, scale.x(reading.day), TOP if reading.loss_db is None else scale.y(reading.loss_db))
            for reading in readings
        ),
        trend_path=mean,
        band_path=band,
        expected_x=expected_on and scale.x(expected_on),
    )


def _near(day, on):
    return day if day and day <= on + FARTHEST else None


def _mean_and_band(trend, scale):
    """Paths of the mean line and of the band about it, from the first fitting to the right edge."""
    first, step = max(trend.first_on, scale.first), (scale.last - max(trend.first_on, scale.first)) / TREND_POINTS
    days = [first + step * number for number in range(TREND_POINTS + 1)]
    means, highs, lows = [], [], []
    for day in days:
        mean, sd = trend.at(day)
        means.append((scale.x(day), scale.y(mean)))
        highs.append((scale.x(day), scale.y(mean + trend.band_sds * sd)))
        lows.append((scale.x(day), scale.y(mean - trend.band_sds * sd)))
    return _path(means), _path(highs + lows[::-1]) + "Z"


def _path(points):
    return "M" + "L".join(f"{x} {y}" for x, y in points)


def _scale(readings, limit_db, start, on, ahead):
    days = [reading.day for reading in readings] + [start, on, *ahead]
    first, last = min(days), max(days)
    room = max((last - first) * 0.04, SHORTEST - (last - first))
    losses_db = [min(reading.loss_db, LARGEST_LOSS_DB) for reading in readings if reading.loss_db is not None]
    return LossScale(first, last + min(room, date.max - last), 1.1 * max([1.15 * limit_db, *losses_db]))
