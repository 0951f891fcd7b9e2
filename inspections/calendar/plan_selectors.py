"""The work on the table, fitted into the days on which each mat is home: as many as can be in time for their event.

Every cable takes one slot of the table. A mat is opened once, for all that is due in it. Dated work orders stand on
their day and leave the rest of it to the others.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from functools import cached_property
from itertools import groupby

from django.db.models import Count, Q

from fleet.models import Depot, Event, Mat
from fleet.months import monday_of

from ..assessment.policy_in_force import current_policy
from ..due.selectors import due_list
from ..models import WorkOrder
from ..numeric.table_time import Job, fit_in
from ..numeric.words import DUE
from .home_selectors import days_away, planned_events, should_be_back
from .table_time_selectors import TableTime, WorkDays, spans_of, work_days_of


class Hindrance(StrEnum):
    """Why a mat is not ready for its event."""

    NO_WORK_DAYS = "no work days"
    AWAY = "away"
    TOO_SHORT = "home too short"
    NO_ROOM = "no room"
    ORDER_LATE = "order too late"


@dataclass(frozen=True)
class MatWork:
    """What is to be done in one mat, and when.

    `rows`: assessed segments due, by position; none for a dated order, whose lines to do are `cables`. `event`: the
    first planned one for which the mat is not fit as it is, None: none is planned. `home`: (first, last) of the days at
    home before it. `shares`: [(day, cables)] on the table, none: no days were found.
    """

    mat: Mat
    cables: int
    rows: tuple
    due_on: date | None
    event: Event | None
    home: tuple
    shares: tuple
    hindrance: Hindrance | None = None
    order: WorkOrder | None = None
    away_that_day: bool = False
    not_back_from: date | None = None

    @property
    def first_day(self):
        return self.shares[0][0] if self.shares else None

    @property
    def last_day(self):
        return self.shares[-1][0] if self.shares else None

    @property
    def positions(self):
        return [row.position for row in self.rows]

    @property
    def undated(self):
        """The number of an order without a day on which some of it stands; "" without one."""
        return next((row.open_order for row in self.rows if row.open_order), "")

    @property
    def is_late(self):
        """It will not be ready for its event."""
        return self.hindrance is not None


@dataclass(frozen=True)
class DayPlan:
    """`room`: cables that can be changed on it; `items`: (MatWork, cables of it on that day)."""

    day: date
    room: int
    items: tuple

    @property
    def cables(self):
        return sum(cables for _, cables in self.items)

    @property
    def too_many(self):
        """Cables that dated orders bring above what the day has room for."""
        return max(self.cables - self.room, 0)


@dataclass(frozen=True)
class WeekPlan:
    """A week from Monday on: days of work still to come, and others that orders are dated for."""

    monday: date
    days: tuple[DayPlan, ...]

    @property
    def busy(self):
        return [day for day in self.days if day.items]

    @property
    def free(self):
        return [day.day for day in self.days if not day.items]

    @property
    def sunday(self):
        return self.monday + timedelta(days=6)

    @property
    def works(self):
        """Each MatWork that has a share in it, once."""
        return list({id(work): work for day in self.days for work, _ in day.items}.values())

    @property
    def cables(self):
        return sum(day.cables for day in self.days)


@dataclass(frozen=True)
class DepotPlan:
    """The work of one depot, in the order of its days; `depot` None: of mats without one."""

    depot: Depot | None
    work_days: WorkDays
    works: tuple[MatWork, ...]
    first: date
    last: date

    @property
    def late(self):
        """Those not ready for their event, in the order of these."""
        return sorted((work for work in self.works if work.is_late), key=lambda work: work.event.starts_on)

    @property
    def without_days(self):
        """Those for which no days were found, and that miss no event by it."""
        return [work for work in self.works if not work.shares and not work.is_late]

    @property
    def cables(self):
        return sum(work.cables for work in self.works)

    @cached_property
    def weeks(self):
        """Those with days of work from this one to the last in which something is to be done."""
        ends = [work.last_day for work in self.works if work.shares]
        mondays = range(0, (monday_of(max(ends)) - monday_of(self.first)).days + 1, 7) if ends else ()
        weeks = (self.week(monday_of(self.first) + timedelta(days=days)) for days in mondays)
        return [week for week in weeks if week.days]

    def week(self, monday):
        return WeekPlan(monday, tuple(self._days(monday)))

    def _days(self, monday):
        for day in (monday + timedelta(days=number) for number in range(7)):
            room, items = self.work_days.on(day), self._by_day[day]
            if items or (room and self.first <= day <= self.last):
                yield DayPlan(day, room, tuple(items))

    @cached_property
    def _by_day(self):
        by_day = defaultdict(list)
        for work in self.works:
            for day, cables in work.shares:
                by_day[day].append((work, cables))
        return by_day


def depot_plans(on, *, depot=None):
    """A DepotPlan of each depot that has work, None last; six queries, however many mats there are.

    Planned are the days from `on` to the end of the look-ahead, and what is due or wanted by an event until then.
    """
    policy = current_policy()
    last = on + timedelta(days=policy.value("look_ahead_days"))
    orders, rows = _dated_orders(on, last, depot), _due_rows(on, last, depot)
    by_mat, due = _without_dated(rows, orders), _due_by_order(rows)
    known = _Known([*by_mat, *(order.mat for order in orders)], on, last)
    depots = {mat.depot_id: mat.depot for mat in known.mats}
    in_order = sorted(depots, key=lambda pk: (pk is None, pk and depots[pk].name))
    return [
        _depot_plan(
            depots[pk],
            work_days_of(policy, pk),
            {mat: of_mat for mat, of_mat in by_mat.items() if mat.depot_id == pk},
            [(order, due.get(order.number)) for order in orders if order.mat.depot_id == pk],
            known,
        )
        for pk in in_order
    ]


class _Known:
    """What events say of these mats, read once."""

    def __init__(self, mats, on, last):
        self.mats, self.on, self.last = mats, on, last
        ids = {mat.pk for mat in mats}
        self.away, self.events = days_away(ids, on, last), planned_events(ids, on)
        self.back = should_be_back(ids, on)
        self.days = [on + timedelta(days=number) for number in range((last - on).days + 1)]

    def event_missed(self, mat, due_on):
        """The first planned event by whose end the mat is no longer fit; None: none is planned, or nothing is due."""
        return next((event for event in self.events[mat.pk] if due_on and event.ends_on >= due_on), None)

    def home(self, mat):
        away = self.away[mat.pk]
        return [day for day in self.days if day not in away]

    def home_before(self, mat, event):
        days = self.home(mat)
        return tuple(spans_of([day for day in days if day < event.starts_on] if event else days))


def _due_rows(on, last, depot):
    """Assessed segments to change that are due by the last day, or wanted by an event that begins by then."""
    rows = due_list(depot=depot).of_status(*DUE).filter(Q(due_on__lte=last) | Q(wanted_on__lte=last))
    rows = rows.with_open_order(on).select_related("segment__cable_type", "mat__depot", "before_event")
    return list(rows.order_by("mat__number", "position"))


def _dated_orders(on, last, depot):
    """Orders in force that are planned for one of these days, with `to_do`: how many lines are open."""
    orders = WorkOrder.objects.in_force(on).filter(planned_on__range=(on, last))
    if depot:
        orders = orders.filter(mat__depot=depot)
    to_do = Count("lines", filter=Q(lines__is_open=True))
    orders = orders.defer("sheet").select_related("mat__depot").annotate(to_do=to_do)
    return list(orders.filter(to_do__gt=0).order_by("planned_on", "number"))


def _without_dated(rows, orders):
    """{mat: what is due in it and stands on no dated order}."""
    dated = {order.number for order in orders}
    left = (row for row in rows if row.open_order not in dated)
    return {mat: tuple(of_mat) for mat, of_mat in groupby(left, key=lambda row: row.mat)}


def _due_by_order(rows):
    """{number of an order: the first day on which one of its cables is due}"""
    due = {}
    for row in rows:
        if row.open_order:
            due[row.open_order] = min(due.get(row.open_order, row.due_on), row.due_on)
    return due


def _depot_plan(depot, work_days, by_mat, orders, known):
    taken = defaultdict(int)
    for order, _ in orders:
        taken[order.planned_on] += order.to_do
    table = TableTime(work_days, known.on, known.last, taken)
    works = [_dated(order, due_on, known) for order, due_on in orders] + _fitted_in(by_mat, table, known)
    works.sort(key=lambda work: (work.first_day is None, work.first_day or known.last, work.due_on or known.on))
    return DepotPlan(depot, work_days, tuple(works), known.on, known.last)


def _dated(order, due_on, known):
    mat, day = order.mat, order.planned_on
    event = known.event_missed(mat, due_on)
    late = Hindrance.ORDER_LATE if event and day >= event.starts_on else None
    return MatWork(
        mat,
        order.to_do,
        (),
        due_on,
        event,
        known.home_before(mat, event),
        ((day, order.to_do),),
        late,
        order,
        day in known.away[mat.pk],
    )


def _fitted_in(by_mat, table, known):
    """The MatWork of each mat, what has waited longest first among those without an event."""
    asked = [(mat, rows, min(row.due_on for row in rows)) for mat, rows in by_mat.items()]
    asked.sort(key=lambda work: (work[2], work[0].number))
    events = [known.event_missed(mat, due_on) for mat, _, due_on in asked]
    jobs = [
        Job(len(rows), event and table.slot_at(event.starts_on), table.windows(known.home(mat)))
        for (mat, rows, _), event in zip(asked, events, strict=True)
    ]
    plan = fit_in(jobs)
    return [
        MatWork(
            mat,
            len(rows),
            rows,
            due_on,
            event,
            known.home_before(mat, event),
            () if start is None else tuple(table.shares(start, len(rows))),
            _hindrance(job, event, start, table),
            not_back_from=known.back.get(mat.pk),
        )
        for (mat, rows, due_on), event, job, start in zip(asked, events, jobs, plan.starts, strict=True)
    ]


def _hindrance(job, event, start, table):
    """None where the mat is ready in time, or misses no event within these days."""
    in_time = start is not None and start + job.length <= job.due if event else True
    if in_time or event.starts_on > table.last:
        return None
    if not table.offsets[-1]:
        return Hindrance.NO_WORK_DAYS
    slots = [min(last, job.due) - first for first, last in job.windows if first < job.due]
    if not slots:
        return Hindrance.AWAY
    return Hindrance.TOO_SHORT if max(slots) < job.length else Hindrance.NO_ROOM
