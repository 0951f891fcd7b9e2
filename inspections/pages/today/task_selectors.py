"""Cables that ask for something on the first page, mat by mat: to be changed, to be measured, unknown."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import Case, Count, Min, Q, Value, When

from fleet.models import Event, Mat

from ...due.unknown_selectors import AGE_NOT_KNOWN, UnknownCables, are_unknown
from ...models import Assessment
from ...numeric.words import PRESSING, Status

SHOWN = 5
CHANGE, MEASURE, UNKNOWN = "change", "measure", "unknown"


@dataclass(frozen=True)
class Preview:
    """The first few of a list, and how many there are in all."""

    shown: list
    total: int

    @property
    def more(self):
        return self.total - len(self.shown)


@dataclass(frozen=True)
class TaskPart:
    """So many cables of a mat that ask for the same: `event` before which they do, None for what waits for none."""

    status: Status
    event: Event | None
    cables: int


@dataclass(frozen=True)
class MatTask:
    """One mat with the segments that ask for something, the most urgent first."""

    mat: Mat
    rows: list

    @property
    def first(self):
        return self.rows[0]

    @property
    def parts(self):
        """[TaskPart], in the order of the statuses and then of the events."""
        parts = {}
        for row in self.rows:
            key = row.status, row.before_event if row.status == Status.CHANGE_BEFORE else None
            parts[key] = parts.get(key, 0) + 1
        in_turn = sorted(parts.items(), key=lambda each: (each[0][0].order, each[0][1] and each[0][1].starts_on))
        return [TaskPart(status, event, cables) for (status, event), cables in in_turn]

    @property
    def without_order(self):
        return [row for row in self.rows if row.open_order is None]


class Tasks:
    """All that asks, each cable in one of three lists: counted mat by mat by the database, then read of the first few.

    Two queries for the lists, and one each for their mats and events.
    """

    def __init__(self, on):
        self._groups = defaultdict(list)
        for group in _groups():
            self._groups[group["asks"]].append(group)
        first = {asks: _first_mats(groups) for asks, groups in self._groups.items()}
        self._rows, self._mats = _rows_of({mat for mats in first.values() for mat in mats}, on)
        self._first = first

    def preview(self, asks):
        """The first mats of that list, each a MatTask, and how many mats it has."""
        mats = self._first.get(asks, [])
        shown = [MatTask(self._mats[mat], self._rows[asks, mat]) for mat in mats if self._rows[asks, mat]]
        return Preview(shown, len({group["mat"] for group in self._groups[asks]}))

    def cables(self, asks):
        """How many cables that list has."""
        return sum(group["cables"] for group in self._groups[asks])

    @property
    def unknown_cables(self):
        of_age = sum(group["of_age"] for group in self._groups[UNKNOWN])
        return UnknownCables(of_age, self.cables(UNKNOWN) - of_age)

    @property
    def before_the_soonest(self):
        """(start of the soonest event before which a cable is to be changed, how many are); (None, 0) without one."""
        wanted = defaultdict(int)
        for group in self._groups[CHANGE]:
            if group["wanted_on"]:
                wanted[group["wanted_on"]] += group["cables"]
        return min(wanted.items(), default=(None, 0))


def _asking():
    """Assessments with `asks`, the list that they stand in; of what is known and OK nothing is asked."""
    pressing = Q(urgency__in=[status.order for status in PRESSING])
    of_lists = ((pressing, CHANGE), (are_unknown(), UNKNOWN), (Q(urgency=Status.MEASURE.order), MEASURE))
    cases = [When(condition, then=Value(asks)) for condition, asks in of_lists]
    return Assessment.objects.annotate(asks=Case(*cases)).exclude(asks=None)


def _groups():
    """A mat may have several: cables wanted for one event stand apart from those that wait for none."""
    groups = _asking().order_by().values("asks", "mat", "wanted_on")
    return groups.annotate(worst=Min("list_key"), cables=Count("pk"), of_age=Count("pk", filter=AGE_NOT_KNOWN))


def _first_mats(groups):
    """What is wanted first cannot wait behind what is worse and wanted later."""
    by_mat = {}
    for group in groups:
        worst, wanted_on = by_mat.get(group["mat"], (group["worst"], date.max))
        by_mat[group["mat"]] = min(worst, group["worst"]), min(wanted_on, group["wanted_on"] or date.max)
    return sorted(by_mat, key=lambda mat: (by_mat[mat][1], by_mat[mat][0]))[:SHOWN]


def _rows_of(mat_ids, on):
    """{(asks, mat id): rows by urgency} of these mats, and {mat id: Mat}."""
    mats = Mat.objects.select_related("depot").in_bulk(mat_ids)
    rows = _asking().filter(mat__in=mat_ids).select_related("segment").prefetch_related("before_event")
    by_list = defaultdict(list)
    for row in rows.by_urgency().with_open_order(on):
        by_list[row.asks, row.mat_id].append(row)
    return by_list, mats
