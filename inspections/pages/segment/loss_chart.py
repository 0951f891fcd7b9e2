"""Loss against time: readings as they were and with the shift of their bench day taken out, the cable's own loss with
its band, the limit, the due and the expected day."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from ...axes import Frame, month_ticks, placed, round_ticks
from ...validators import LARGEST_LOSS_DB

# at the right the limit is named, where neither a dot nor a date can lie
FRAME = Frame(width=640, height=320, left=48, right=576, top=44, bottom=280)
# a due date farther away than this would press all readings into a corner: it is given in words, not drawn
FARTHEST = timedelta(days=5 * 366)
SHORTEST = timedelta(days=180)
# what *no signal* takes up beside its dot
WORD_WIDTH = 116
# the loss lies in the band of so many standard deviations with 90 %
BAND_SDS = 1.6449
# beside the days of readings, at which wander has its kinks
TREND_POINTS = 36
MOST_TICKS = 5
LEAST_STEP_DB = 0.1
# above and below what is drawn, a share of it; and what is drawn at least, in limits
ROOM, LEAST_LIMITS = 0.12, 0.25


class Drawn(StrEnum):
    """What part a reading has in the line, and so what it is drawn as; the last three have none."""

    COUNTS = "in the fit"
    AS_NEW = "in the fit, as new"
    NO_SIGNAL = "open or broken"
    OUT = "out of the fit"
    APART = "does not count"


@dataclass(frozen=True)
class ReadingToDraw:
    """`loss_db` as it was read; None: no signal. `shift_db`: of its bench day, with its standard deviation; None: not
    known. `address`: of the page of that bench day. `uncertainty_db`: the standard uncertainty of the reading, None:
    not known."""

    day: date
    loss_db: float | None
    drawn: Drawn = Drawn.COUNTS
    shift_db: float | None = None
    shift_sd_db: float | None = None
    address: str = ""
    uncertainty_db: float | None = None

    @property
    def ends_db(self):
        """One standard uncertainty below and above what was read; () where that is not known."""
        known = self.loss_db is not None and self.uncertainty_db is not None
        return (self.loss_db - self.uncertainty_db, self.loss_db + self.uncertainty_db) if known else ()

    @property
    def without_shift_db(self):
        """What is left without the shift of the day; None where that is not known, or plays no part."""
        known = self.drawn == Drawn.COUNTS and self.loss_db is not None and self.shift_db is not None
        return self.loss_db - self.shift_db if known else None


@dataclass(frozen=True)
class TrendToDraw:
    """The loss of the cable itself from `first_on` on.

    `path`: days to its mean and standard deviation, dB; from `read_on`, its last reading, on it is a forecast.
    """

    first_on: date
    path: Callable
    read_on: date
    expected_on: date | None = None
    band_sds: float = BAND_SDS


@dataclass(frozen=True)
class LossScale:
    """From days and dB to points; what lies outside is put on the edge."""

    first: date
    last: date
    highest_db: float
    lowest_db: float = 0.0

    def x(self, day):
        return float(FRAME.across((day - self.first) / (self.last - self.first)))

    def y(self, loss_db):
        return float(FRAME.up((loss_db - self.lowest_db) / (self.highest_db - self.lowest_db)))

    @property
    def loss_ticks(self):
        return round_ticks(self.lowest_db, self.highest_db, most=MOST_TICKS, least_step=LEAST_STEP_DB)


@dataclass(frozen=True)
class Dot:
    """A reading in its place: `y` as it was read, `own_y` without the shift of its day (None: not known).

    `whisker`: from and to which height its standard uncertainty reaches; () where that is not known.
    """

    reading: ReadingToDraw
    x: float
    y: float
    own_y: float | None
    whisker: tuple[float, ...] = ()

    @property
    def no_signal(self):
        return self.reading.loss_db is None

    @property
    def is_out(self):
        return self.reading.drawn == Drawn.OUT

    @property
    def is_apart(self):
        return self.reading.drawn == Drawn.APART

    @property
    def word_before(self):
        """Its word has no room behind it."""
        return self.x > FRAME.right - WORD_WIDTH


@dataclass(frozen=True)
class LineRow:
    """What line and band of the drawing are on a day, dB; `ahead`: a forecast."""

    day: date
    loss_db: float
    low_db: float
    high_db: float
    ahead: bool


@dataclass(frozen=True)
class LossChart:
    """`day_ticks`: (x, first day of a month); `loss_ticks`: (y, dB). `due_x` None: no due date, or too far ahead.

    `trend_path`: up to the last reading; `ahead_path`: the forecast from there on. `line_rows`: both as numbers on the
    days that the axis names, today, the due and the expected day, as far as they are drawn.
    """

    scale: LossScale
    limit_db: float
    limit_y: float
    today_x: float
    due_x: float | None
    day_ticks: tuple[tuple[float, date], ...]
    loss_ticks: tuple[tuple[float, float], ...]
    dots: tuple[Dot, ...]
    trend_path: str = ""
    ahead_path: str = ""
    band_path: str = ""
    line_rows: tuple[LineRow, ...] = ()
    expected_x: float | None = None
    frame: Frame = FRAME

    @property
    def due_before(self):
        """Its word stands before the mark."""
        return _in_right_half(self.due_x)

    @property
    def expected_before(self):
        return _in_right_half(self.expected_x)

    @property
    def takes_shifts_out(self):
        return any(dot.own_y is not None for dot in self.dots)

    @property
    def shows_alone(self):
        """A reading in the fit stands as it was read: it has no bench day, or one without a shift that is known."""
        return any(dot.reading.drawn in (Drawn.COUNTS, Drawn.AS_NEW) and dot.own_y is None for dot in self.dots)

    @property
    def shows_whiskers(self):
        return any(dot.whisker for dot in self.dots)

    @property
    def shows_apart(self):
        return any(dot.is_apart for dot in self.dots)

    @property
    def shows_out(self):
        return any(dot.is_out for dot in self.dots)


def loss_chart(readings, limit_db, *, start, on, due_on=None, trend=None):
    """Readings from `start` (first fitted) to `on` or the due date, losses in dB from below the least of them; no
    signal on top.

    `trend`, a TrendToDraw, is drawn with its band as far as the expected date where that is near enough.
    """
    due_on = _near(due_on, on)
    expected_on = _near(trend and trend.expected_on, on)
    days = _span(readings, start, on, [day for day in (due_on, expected_on) if day])
    scale = LossScale(*days, *_reach(readings, limit_db, trend, days))
    known, ahead, band = _strokes(trend, scale, readings) if trend else ("", "", "")
    ticks = month_ticks(scale.first, scale.last, most=MOST_TICKS)
    return LossChart(
        scale=scale,
        limit_db=limit_db,
        limit_y=scale.y(limit_db),
        today_x=scale.x(on),
        due_x=due_on and scale.x(due_on),
        day_ticks=placed(scale.x, ticks),
        loss_ticks=placed(scale.y, scale.loss_ticks),
        dots=tuple(_dot(reading, scale) for reading in readings),
        trend_path=known,
        ahead_path=ahead,
        band_path=band,
        line_rows=_line_rows(trend, [*ticks, on, due_on, expected_on]) if trend else (),
        expected_x=expected_on and scale.x(expected_on),
    )


def _near(day, on):
    return day if day and day <= on + FARTHEST else None


def _in_right_half(x):
    return bool(x) and x > (FRAME.left + FRAME.right) / 2


def _dot(reading, scale):
    own_db = reading.without_shift_db
    y = FRAME.top if reading.loss_db is None else scale.y(reading.loss_db)
    own_y = None if own_db is None else scale.y(own_db)
    return Dot(reading, scale.x(reading.day), y, own_y, tuple(map(scale.y, reading.ends_db)))


def _strokes(trend, scale, readings):
    """Paths of the mean up to the last reading, of the mean after it, and of the band about both."""
    days = _days_drawn(trend, scale, readings)
    mean_db, sd_db = trend.path(days)
    x = [scale.x(day) for day in days]

    def points(losses_db):
        return [(each, scale.y(loss_db)) for each, loss_db in zip(x, losses_db.tolist(), strict=True)]

    means, reach_db = points(mean_db), trend.band_sds * sd_db
    turn = sum(day <= trend.read_on for day in days)
    ahead = means[max(turn - 1, 0) :]
    band = points(mean_db + reach_db) + points(mean_db - reach_db)[::-1]
    return _path(means[:turn]), _path(ahead) if len(ahead) > 1 else "", _path(band) + "Z"


def _line_rows(trend, days):
    days = sorted({day for day in days if day and day >= trend.first_on})
    if not days:
        return ()
    mean_db, sd_db = trend.path(days)
    ends = zip(days, mean_db.tolist(), (trend.band_sds * sd_db).tolist(), strict=True)
    return tuple(LineRow(day, mean, mean - reach, mean + reach, day > trend.read_on) for day, mean, reach in ends)


def _days_drawn(trend, scale, readings):
    """Evenly from the first fitting to the right edge, and each day of a reading: there wander bends the line."""
    first = max(trend.first_on, scale.first)
    even = {first + (scale.last - first) * number // TREND_POINTS for number in range(TREND_POINTS + 1)}
    return sorted(even | {day for reading in readings if first <= (day := reading.day)})


def _path(points):
    return "M" + "L".join(f"{x} {y}" for x, y in points) if points else ""


def _span(readings, start, on, ahead):
    """(first, last) day that is drawn."""
    days = [reading.day for reading in readings] + [start, on, *ahead]
    first, last = min(days), max(days)
    room = max((last - first) * 0.04, SHORTEST - (last - first))
    return first, last + min(room, date.max - last)


def _reach(readings, limit_db, trend, days):
    """(highest, lowest) loss of the axis, dB: with the limit, all readings and the ends of the band on it."""
    drawn_db = [min(loss_db, LARGEST_LOSS_DB) for reading in readings for loss_db in _drawn_db(reading)]
    lowest_db = min([limit_db, *drawn_db, *_floor_of_band(trend, days)]) if drawn_db or trend else 0.0
    highest_db = max([limit_db, *drawn_db])
    lowest_db = min(lowest_db, highest_db - LEAST_LIMITS * limit_db)
    room_db = ROOM * (highest_db - lowest_db)
    return highest_db + room_db, max(lowest_db - room_db, 0.0)


def _drawn_db(reading):
    return [each for each in (reading.loss_db, reading.without_shift_db, *reading.ends_db) if each is not None]


def _floor_of_band(trend, days):
    if trend is None:
        return []
    mean_db, sd_db = trend.path([max(trend.first_on, days[0]), days[1]])
    return (mean_db - trend.band_sds * sd_db).tolist()
