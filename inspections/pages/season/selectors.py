"""Mats against the weeks ahead: who is planned when, from when each should not go, and whether enough are fit."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import F

from fleet.models import Mat, UsageEvent
from fleet.months import monday_of

from ...assessment.unfit import UnfitMats

WEEKS = 20


@dataclass(frozen=True)
class SeasonMat:
    """`planned`: numbers of weeks. `unfit_from`: the first day on which it should not go, None: not in these weeks."""

    number: str
    depot: str
    url: str
    planned: tuple[int, ...]
    unfit_from: date | None
    unfit_week: int | None

    @property
    def not_fit(self):
        """Weeks for which it is planned and in which it should not go."""
        return tuple(week for week in self.planned if self.unfit_week is not None and week >= self.unfit_week)


@dataclass(frozen=True)
class Season:
    """`weeks`: their Mondays. `mats`: planned or unfit in one of them; `others`: how many are neither.

    `needed`, `fit`: mats of each week, those planned and all that may go.
    """

    weeks: tuple[date, ...]
    mats: tuple[SeasonMat, ...]
    others: int
    needed: tuple[int, ...]
    fit: tuple[int, ...]

    @property
    def troubled(self):
        """(week, planned mats that are not fit in it), of weeks with such mats."""
        counts = [sum(week in mat.not_fit for mat in self.mats) for week in range(len(self.weeks))]
        return [(week, count) for week, count in enumerate(counts) if count]

    @property
    def short(self):
        """Weeks that need more mats than are fit."""
        return [week for week, needed in enumerate(self.needed) if needed > self.fit[week]]


def season(on, weeks=WEEKS):
    """`Season` from the week of that day; five queries, however many mats and events there are."""
    monday = monday_of(on)
    mondays = tuple(monday + timedelta(weeks=number) for number in range(weeks))
    end = mondays[-1] + timedelta(days=6)
    by_depot = F("depot__name").asc(nulls_last=True)
    in_use = list(Mat.objects.in_use(on).select_related("depot").order_by(by_depot, "number"))
    planned = _planned_weeks(on, monday, end)
    known = UnfitMats([mat.pk for mat in in_use], on, end)
    mats = [_season_mat(mat, planned.get(mat.pk, set()), known.since(mat.pk, on, end), monday) for mat in in_use]
    return Season(
        weeks=mondays,
        mats=tuple(mat for mat in mats if mat.planned or mat.unfit_from),
        others=sum(not mat.planned and not mat.unfit_from for mat in mats),
        needed=tuple(sum(week in mat.planned for mat in mats) for week in range(weeks)),
        fit=tuple(sum(mat.unfit_week is None or mat.unfit_week > week for mat in mats) for week in range(weeks)),
    )


def _planned_weeks(on, monday, end):
    """{mat: numbers of the weeks in which it is planned to be out}"""
    rows = UsageEvent.objects.still_planned(on).filter(event__starts_on__lte=end)
    weeks = {}
    for mat, starts_on, ends_on in rows.values_list("mat", "event__starts_on", "event__ends_on"):
        first, last = max(starts_on, monday), min(ends_on, end)
        weeks.setdefault(mat, set()).update(range(_week(first, monday), _week(last, monday) + 1))
    return weeks


def _season_mat(mat, planned, unfit_from, monday):
    return SeasonMat(
        number=mat.number,
        depot=str(mat.depot or ""),
        url=mat.get_absolute_url(),
        planned=tuple(sorted(planned)),
        unfit_from=unfit_from,
        unfit_week=None if unfit_from is None else _week(unfit_from, monday),
    )


def _week(day, monday):
    return (day - monday).days // 7
