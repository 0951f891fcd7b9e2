"""Due by month: a bar for what is due already and for each month ahead, full for what was seen, hollow for limits."""

from dataclasses import dataclass

from django.utils.formats import date_format

from ..axes import Frame, placed, round_ticks

FRAME = Frame(width=640, height=236, left=36, right=640, top=24, bottom=166)
# between the bar of what is due already and the first month
APART = 14
MOST_TICKS, BAR_SHARE = 4, 0.62
# a month is named where a quarter begins
NAMED = (1, 4, 7, 10)


@dataclass(frozen=True)
class Bar:
    """`full`: (y, height) of cables due by what was seen of them, from the ground up; `hollow`: of the others above."""

    x: float
    width: float
    full: tuple[float, float]
    hollow: tuple[float, float]
    cables: int
    month: str
    year: str
    events: int
    stands_out: bool

    @property
    def middle(self):
        return round(self.x + self.width / 2, 1)

    @property
    def number_y(self):
        """Where its number stands."""
        return round(self.hollow[0] - 5, 1)


@dataclass(frozen=True)
class MonthChart:
    """`usual_y`: height of what came out a month over the last year; None where it is off the drawing or nothing.

    `shelf`: the path of what is left on the shelf, a step a month; "" where nothing lies there, or nobody asks.
    """

    bars: tuple[Bar, ...]
    ticks: tuple[tuple[float, float], ...]
    usual_y: float | None
    shelf: str = ""
    frame: Frame = FRAME


def month_chart(coming):
    """MonthChart of a ComingDue."""
    most = max(1, coming.usual, *(max(month.cables, month.left or 0) for month in coming.months))
    scale, named = (FRAME.bottom - FRAME.top) / most, (coming.months[0], coming.highest)
    ticks = [int(tick) for tick in round_ticks(0, most, most=MOST_TICKS, least_step=1)]
    return MonthChart(
        bars=tuple(
            _bar(number, month, len(coming.months), scale, stands_out=month in named)
            for number, month in enumerate(coming.months)
        ),
        ticks=placed(lambda cables: FRAME.up(cables / most), ticks),
        usual_y=float(FRAME.up(coming.usual / most)) if coming.usual else None,
        shelf=_steps([FRAME.up(month.left / most) for month in coming.months]) if coming.months[0].left else "",
    )


def _steps(heights):
    """One step a month, as wide as its place; what is due already stands apart from the months."""
    place = (FRAME.right - FRAME.left - APART) / len(heights)
    ends = [round(FRAME.left + place * number + APART, 1) for number in range(1, len(heights) + 1)]
    steps = "".join(f"V{height}H{end}" for height, end in zip(heights, ends, strict=True))
    return f"M{FRAME.left} {heights[0]}{steps}"


def _bar(number, month, months, scale, *, stands_out):
    place = (FRAME.right - FRAME.left - APART) / months
    width = round(BAR_SHARE * place, 1)
    x = FRAME.left + place * number + (APART if number else 0) + (place - width) / 2
    full, hollow = scale * month.seen, scale * month.by_limit
    return Bar(
        x=round(x, 1),
        width=width,
        full=(round(FRAME.bottom - full, 1), round(full, 1)),
        hollow=(round(FRAME.bottom - full - hollow, 1), round(hollow, 1)),
        cables=month.cables,
        **_words(number, month.first),
        events=month.events,
        stands_out=stands_out,
    )


def _words(number, first):
    if first is None:
        return {"month": "now", "year": ""}
    named = first.month in NAMED or number == 1
    newly = first.month == 1 or number == 1
    return {"month": date_format(first, "M") if named else "", "year": str(first.year) if newly else ""}
