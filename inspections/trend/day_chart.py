"""The shift of each bench day, with its standard deviation."""

from dataclasses import dataclass
from datetime import date

from ..axes import round_ticks

WIDTH, HEIGHT = 1100, 220
LEFT, RIGHT, TOP, BOTTOM = 56, 1084, 20, 190
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
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = RIGHT
    top: int = TOP
    bottom: int = BOTTOM


def day_chart(days, named=()):
    """Bench days (records with measured_on, shift_db, shift_sd_db); `named` of them get a mark. None without one."""
    if not days:
        return None
    reach_db = max(LEAST_REACH_DB, *(abs(day.shift_db) + day.shift_sd_db for day in days))
    first, last = min(day.measured_on for day in days), max(day.measured_on for day in days)
    middle, half = (TOP + BOTTOM) / 2, (BOTTOM - TOP) / 2

    def x(day):
        return round(LEFT + 10 + (RIGHT - LEFT - 20) * (day - first).days / max((last - first).days, 1), 1)

    def y(shift_db):
        return round(middle - half * shift_db / reach_db, 1)

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
        ticks=tuple(
            (y(tick), tick) for tick in round_ticks(-reach_db, reach_db, most=MOST_TICKS, least_step=LEAST_STEP_DB)
        ),
        years=tuple((x(date(year, 1, 1)), year) for year in _years(first, last)),
    )


def _years(first, last):
    return range(first.year + 1, last.year + 1, 1 + (last.year - first.year) // MOST_YEARS)
