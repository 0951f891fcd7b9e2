"""The shift of each bench day, with its standard deviation."""

from dataclasses import dataclass, replace
from datetime import date

from ..axes import Frame, placed, round_ticks

FRAME = Frame(width=1100, height=220, left=56, right=1084, top=20, bottom=190)
# no day stands on an end of the axis
INNER = replace(FRAME, left=FRAME.left + 10, right=FRAME.right - 10)
MOST_TICKS, MOST_YEARS = 3, 24
LEAST_STEP_DB = 0.05
LEAST_REACH_DB = 0.1


@dataclass(frozen=True)
class DayMark:
    """A bench day that is named."""

    x: float
    y: float


@dataclass(frozen=True)
class DayChart:
    """`spread_path`: one standard deviation to each side of every day; `dot_path`: days that are not in `marks`.

    `ticks`: (y, dB); `years`: (x, year).
    """

    days: int
    spread_path: str
    dot_path: str
    marks: tuple[DayMark, ...]
    zero_y: float
    ticks: tuple[tuple[float, float], ...]
    years: tuple[tuple[float, int], ...]
    frame: Frame = FRAME


def day_chart(days, named=()):
    """Bench days (records with measured_on, shift_db, shift_sd_db); `named` of them get a mark. None without one."""
    if not days:
        return None
    reach_db = max(LEAST_REACH_DB, *(abs(day.shift_db) + day.shift_sd_db for day in days))
    first, last = min(day.measured_on for day in days), max(day.measured_on for day in days)

    def x(day):
        return float(INNER.across((day - first).days / max((last - first).days, 1)))

    def y(shift_db):
        return float(FRAME.up((1 + shift_db / reach_db) / 2))

    def spread(day):
        return f"M{x(day.measured_on)} {y(day.shift_db - day.shift_sd_db)}V{y(day.shift_db + day.shift_sd_db)}"

    marked = set(named)
    plain = [day for day in days if day not in marked]
    return DayChart(
        days=len(days),
        spread_path="".join(spread(day) for day in days),
        dot_path="".join(f"M{x(day.measured_on)} {y(day.shift_db)}h0" for day in plain),
        marks=tuple(DayMark(x(day.measured_on), y(day.shift_db)) for day in named),
        zero_y=y(0),
        ticks=placed(y, round_ticks(-reach_db, reach_db, most=MOST_TICKS, least_step=LEAST_STEP_DB)),
        years=tuple((x(date(year, 1, 1)), year) for year in _years(first, last)),
    )


def _years(first, last):
    return range(first.year + 1, last.year + 1, 1 + (last.year - first.year) // MOST_YEARS)
