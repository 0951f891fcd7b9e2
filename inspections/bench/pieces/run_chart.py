"""Run chart of a reference piece: how far each of its readings is off, within the limits of its day."""

from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from ...axes import Frame, month_ticks, placed, round_ticks
from ...numeric.reference_pieces import ACTION_SDS, WARNING_SDS

FRAME = Frame(width=1100, height=260, left=56, right=1060, top=24, bottom=226)
MOST_TICKS, MOST_MONTHS = 3, 9
LEAST_STEP_DB = 0.05
# no reading stands on an end of the axis
INNER = replace(FRAME, left=FRAME.left + 12, right=FRAME.right - 12)


@dataclass(frozen=True)
class RunMark:
    """One reading. `earlier`: another one of its bench day counts; `beyond` the action limits."""

    x: float
    y: float
    earlier: bool
    beyond: bool


@dataclass(frozen=True)
class RunChart:
    """`warning_path`, `action_path`: the limits, both sides; `steps`: (x, day) where another value was agreed;
    `ticks`: (y, dB); `day_ticks`: (x, day); `of_day`: x of the bench day that the page is about, or None."""

    marks: tuple[RunMark, ...]
    beyond: int
    warning_path: str
    action_path: str
    zero_y: float
    steps: tuple[tuple[float, date], ...]
    ticks: tuple[tuple[float, float], ...]
    day_ticks: tuple[tuple[float, date], ...]
    of_day: float | None = None
    frame: Frame = FRAME


def run_chart(reads, of_day=None):
    """RunChart of PieceReads in order of their days; None without one that has an agreed value."""
    known = [read for read in reads if read.difference_db is not None]
    if not known:
        return None
    days = [read.reading.measured_on for read in known]
    x, y = _scale_x(days[0], days[-1]), _scale_y(known)
    reach_db = _reach_db(known)
    return RunChart(
        marks=tuple(_mark(read, x, y) for read in known),
        beyond=sum(read.is_beyond for read in known),
        warning_path=_limits(known, x, y, WARNING_SDS),
        action_path=_limits(known, x, y, ACTION_SDS),
        zero_y=y(0.0),
        steps=tuple(_steps(known, x)),
        ticks=placed(y, round_ticks(-reach_db, reach_db, most=MOST_TICKS, least_step=LEAST_STEP_DB)),
        day_ticks=placed(x, month_ticks(days[0], days[-1], most=MOST_MONTHS)),
        of_day=x(of_day) if of_day and days[0] <= of_day <= days[-1] else None,
    )


def _reach_db(known):
    return 1.08 * max(max(abs(read.difference_db), read.limit_db) for read in known)


def _scale_x(first, last):
    span = (last - first).days

    def x(day):
        return float(INNER.across((day - first).days / span if span else 0.5))

    return x


def _scale_y(known):
    reach_db = _reach_db(known)
    return lambda off_db: float(FRAME.up((1 + off_db / reach_db) / 2))


def _mark(read, x, y):
    return RunMark(x(read.reading.measured_on), y(read.difference_db), not read.counts, read.is_beyond)


def _limits(known, x, y, sds):
    """A line to each side; it steps half way between readings whose limits differ."""
    counted = [read for read in known if read.counts]
    places = [x(read.reading.measured_on) for read in counted]
    ends = [FRAME.left, *((one + other) / 2 for one, other in pairwise(places)), FRAME.right]
    paths = []
    for sign in (1, -1):
        heights = [y(sign * sds * read.sd_db) for read in counted]
        line = "".join(f"V{height}H{round(end, 1)}" for height, end in zip(heights, ends[1:], strict=True))
        paths.append(f"M{FRAME.left} {heights[0]}{line}")
    return "".join(paths)


def _steps(known, x):
    for before, after in pairwise(known):
        if before.value.pk != after.value.pk:
            yield max(x(after.value.agreed_on), FRAME.left), after.value.agreed_on
