"""Mats against weeks: a row a mat, a column a week; full where it is planned, a line from when it should not go."""

from dataclasses import dataclass
from itertools import groupby

from django.utils.formats import date_format

from fleet.models.mats import mat_name

WIDTH, LEFT, TOP = 640, 92, 44
ROW, MARK = 24, 12
# so many rows of one drawing fit on a sheet of paper
ROWS = 30
# between two rows of numbers
APART = 22


@dataclass(frozen=True)
class Row:
    """`planned`: x of the marks of weeks in which it is out and may go; `not_fit`: of those in which it should not.

    `unfit_x`: where the line begins; None: it may go in all weeks.
    """

    name: str
    y: float
    planned: tuple[float, ...]
    not_fit: tuple[float, ...]
    unfit_x: float | None

    @property
    def mark_y(self):
        return self.y - MARK / 2


@dataclass(frozen=True)
class DepotRows:
    """Rows of mats of one depot ("": of none), as many as fit on a sheet; `height` of the drawing that they need."""

    depot: str
    rows: tuple[Row, ...]

    @property
    def height(self):
        return TOP + ROW * len(self.rows)


@dataclass(frozen=True)
class SeasonChart:
    """`weeks`: (x of the middle, day of its Monday); `months`: (x, name); `counts`: (x, planned, fit, too few)."""

    depots: tuple[DepotRows, ...]
    weeks: tuple[tuple[float, int], ...]
    months: tuple[tuple[float, str], ...]
    counts: tuple[tuple[float, int, int, bool], ...]
    width: int = WIDTH
    mark: int = MARK
    counts_y: float = TOP + APART / 2
    counts_height: float = TOP + 2 * APART


def season_chart(season):
    """SeasonChart of a Season."""
    step = (WIDTH - LEFT) / len(season.weeks)
    middles = [round(LEFT + step * (week + 0.5), 1) for week in range(len(season.weeks))]
    of_depots = ((depot, list(mats)) for depot, mats in groupby(season.mats, key=lambda mat: mat.depot))
    return SeasonChart(
        depots=tuple(
            DepotRows(depot, tuple(_row(number, mat, middles, step) for number, mat in enumerate(mats)))
            for depot, of_depot in of_depots
            for mats in _sheets(of_depot)
        ),
        weeks=tuple((x, monday.day) for x, monday in zip(middles, season.weeks, strict=True)),
        months=tuple(_months(season.weeks, middles)),
        counts=tuple(
            (x, needed, fit, needed > fit) for x, needed, fit in zip(middles, season.needed, season.fit, strict=True)
        ),
    )


def _sheets(mats):
    return (mats[first : first + ROWS] for first in range(0, len(mats), ROWS))


def _row(number, mat, middles, step):
    marks = {week: round(middles[week] - MARK / 2, 1) for week in mat.planned}
    return Row(
        name=mat_name(mat.number),
        y=TOP + ROW * (number + 0.5),
        planned=tuple(x for week, x in marks.items() if week not in mat.not_fit),
        not_fit=tuple(x for week, x in marks.items() if week in mat.not_fit),
        unfit_x=None if mat.unfit_week is None else round(middles[mat.unfit_week] - step / 2, 1),
    )


def _months(weeks, middles):
    """Each month at the first Monday in it, with its year in January; the first where the next leaves it room."""
    for number, (monday, x) in enumerate(zip(weeks, middles, strict=True)):
        if (not number and weeks[1].month == monday.month) or (number and monday.month != weeks[number - 1].month):
            yield x, date_format(monday, "M Y" if monday.month == 1 else "M")
