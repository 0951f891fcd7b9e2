"""The pool's trend: the line of each cable length against the limit, and the mean residual of each bench day."""

from dataclasses import dataclass
from datetime import date

from ..axes import round_ticks

WIDTH, HEIGHT = 640, 318
LEFT, RIGHT, TOP, BOTTOM = 56, 560, 28, 260
MOST_LENGTHS = 6
MOST_LOSS_TICKS, MOST_DAY_TICKS, MOST_YEARS = 6, 3, 24
LEAST_STEP_DB = 0.05


@dataclass(frozen=True)
class LengthStroke:
    length_m: float
    path: str
    end_y: float


@dataclass(frozen=True)
class LengthChart:
    """Lines from as new to `until` units of the wear clock; `until_label` is that end."""

    strokes: tuple[LengthStroke, ...]
    limit_y: float
    loss_ticks: tuple[tuple[float, float], ...]
    clock_ticks: tuple[tuple[float, float], ...]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = RIGHT
    top: int = TOP
    bottom: int = BOTTOM


def length_chart(trends, limit_db, until):
    """Trends (records with length_m, as_new_db, rate_db) up to `until`; of many lengths a few."""
    chosen = _spread(sorted(trends, key=lambda trend: trend.length_m))
    ends_db = [trend.as_new_db + trend.rate_db * until for trend in chosen]
    highest_db = 1.1 * max([limit_db, *ends_db])
    ticks = round_ticks(0, highest_db, most=MOST_LOSS_TICKS, least_step=LEAST_STEP_DB)

    def y(loss_db):
        return round(BOTTOM - (BOTTOM - TOP) * max(loss_db, 0) / highest_db, 1)

    return LengthChart(
        strokes=tuple(
            LengthStroke(trend.length_m, f"M{LEFT} {y(trend.as_new_db)}L{RIGHT} {y(end_db)}", y(end_db))
            for trend, end_db in zip(chosen, ends_db, strict=True)
        ),
        limit_y=y(limit_db),
        loss_ticks=tuple((y(tick), tick) for tick in ticks),
        clock_ticks=tuple(
            (round(LEFT + (RIGHT - LEFT) * share, 1), round(until * share, 6)) for share in (0, 0.25, 0.5, 0.75, 1)
        ),
    )


@dataclass(frozen=True)
class DayBar:
    day: date
    x: float
    y: float
    is_named: bool


@dataclass(frozen=True)
class DayChart:
    """Shifts as strokes from zero; `ticks`: (y, dB); `years`: (x, year)."""

    bars: tuple[DayBar, ...]
    zero_y: float
    ticks: tuple[tuple[float, float], ...]
    years: tuple[tuple[float, int], ...]
    width: int = 1100
    height: int = 220
    left: int = LEFT
    right: int = 1084
    top: int = 20
    bottom: int = 190


def day_chart(days, named):
    """BenchDay rows in order, and those of them that are `named`; None without one."""
    if not days:
        return None
    chart = DayChart((), 0, (), ())
    reach_db = max(0.1, *(abs(day.shift_db) for day in days))
    first, last = days[0].measured_on, days[-1].measured_on
    span = max((last - first).days, 1)
    middle, half = (chart.top + chart.bottom) / 2, (chart.bottom - chart.top) / 2

    def x(day):
        return round(chart.left + 10 + (chart.right - chart.left - 20) * (day - first).days / span, 1)

    def y(shift_db):
        return round(middle - half * shift_db / reach_db, 1)

    ticks = round_ticks(-reach_db, reach_db, most=MOST_DAY_TICKS, least_step=LEAST_STEP_DB)
    years = range(first.year + 1, last.year + 1, 1 + (last.year - first.year) // MOST_YEARS)
    return DayChart(
        bars=tuple(DayBar(day.measured_on, x(day.measured_on), y(day.shift_db), day in named) for day in days),
        zero_y=y(0),
        ticks=tuple((y(tick), tick) for tick in ticks),
        years=tuple((x(date(year, 1, 1)), year) for year in years),
    )


def _spread(trends):
    if len(trends) <= MOST_LENGTHS:
        return trends
    last = len(trends) - 1
    return [trends[round(number * last / (MOST_LENGTHS - 1))] for number in range(MOST_LENGTHS)]
