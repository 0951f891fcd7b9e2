"""What the first page asks for: to be answered, to be changed, held back, about to go, to be measured."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Count, F, Min

from fleet.models import Event, Fault, Mat
from fleet.selectors.loans import with_loans
from fleet.selectors.numbering import renamed_codes
from fleet.selectors.usage import next_planned_events, unanswered_events
from fleet.selectors.whereabouts import mats_away

from ...assessment.condition_selectors import MatStatuses
from ...assessment.unfit import UnfitMats
from ...due.selectors import kinds_to_change_now
from ...due.unknown_selectors import UnknownCables, count_unknown, unknown_cables
from ...models import Assessment, WorkOrder
from ...numeric.words import PRESSING, Status
from .going_selectors import GoingEvents, going_but_should_not, last_planned_day

SHOWN = 5


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


@dataclass(frozen=True)
class HeldMat:
    mat: Mat
    faults: list = field(default_factory=list)
    empty: list = field(default_factory=list)


@dataclass(frozen=True)
class Preview:
    """The first few of a list, and how many there are in all."""

    shown: list
    total: int

    @property
    def more(self):
        return self.total - len(self.shown)


@dataclass(frozen=True)
class Today:
    unanswered: Preview
    cables_to_change: int
    kinds_now: dict
    before_on: date | None
    cables_before: int
    change: Preview
    orders: Preview
    held_back: Preview
    going: GoingEvents
    measure: Preview
    unknown: Preview
    unknown_cables: UnknownCables
    away: Preview
    next_event: Event | None
    has_mats: bool
    mats: dict
    renamed: list

    @property
    def nothing_to_do(self):
        lists = (self.unanswered, self.change, self.orders, self.held_back, self.going, self.measure, self.unknown)
        return not self.renamed and not any(part.total for part in lists)


def today(on):
    """Everything the first page shows, in a number of queries that does not grow with the pool."""
    waiting = unanswered_events(on)
    to_change = Assessment.objects.of_status(*PRESSING)
    before_on, cables_before = _before_the_soonest(to_change)
    away, known = mats_away(on), UnfitMats(Mat.objects.order_by().values("pk"), on, last_planned_day(on))
    statuses = MatStatuses(Mat.objects.in_use(on), on, known)
    return Today(
        unanswered=Preview(with_loans(waiting[:SHOWN], on), waiting.count()),
        cables_to_change=to_change.count(),
        kinds_now=kinds_to_change_now(),
        before_on=before_on,
        cables_before=cables_before,
        change=_mat_tasks(to_change, on),
        orders=_orders(on),
        held_back=_held_back(statuses, on),
        going=going_but_should_not(known, on, SHOWN),
        measure=_mat_tasks(_to_measure(), on),
        unknown=_mat_tasks(unknown_cables(), on),
        unknown_cables=count_unknown(),
        away=Preview(away[:SHOWN], len(away)),
        next_event=next_planned_events(on).first(),
        has_mats=bool(statuses.of),
        mats=statuses.counts,
        renamed=renamed_codes(),
    )


def _orders(on):
    asking = WorkOrder.objects.asking(on)
    return Preview(list(asking.with_register()[:SHOWN]), asking.count())


def _to_measure():
    """Those of which more than a measurement is unknown stand in a list of their own."""
    return Assessment.objects.of_status(Status.MEASURE).exclude(pk__in=unknown_cables().values("pk"))


def _before_the_soonest(to_change):
    """Start of the soonest event that a mat with a segment to change is planned for, and how many such segments."""
    by_day = to_change.filter(before_event__isnull=False).values("before_event__starts_on")
    soonest = by_day.annotate(cables=Count("pk")).order_by("before_event__starts_on").first()
    return (soonest["before_event__starts_on"], soonest["cables"]) if soonest else (None, 0)


def _mat_tasks(asking, on):
    # what is wanted first cannot wait behind what is worse and wanted later
    mats = asking.values("mat").annotate(worst=Min("list_key"), soon=Min("wanted_on"))
    in_order = mats.order_by(F("soon").asc(nulls_last=True), "worst")
    first = [row["mat"] for row in in_order[:SHOWN]]
    rows = asking.filter(mat__in=first).with_register().by_urgency().with_open_order(on)
    by_mat = defaultdict(list)
    for row in rows:
        by_mat[row.mat_id].append(row)
    tasks = [MatTask(by_mat[mat][0].mat, by_mat[mat]) for mat in first]
    return Preview(tasks, asking.aggregate(mats=Count("mat", distinct=True))["mats"])


def _held_back(statuses, on):
    """Those that a fault or an empty position keeps at home, whatever their cables are worth."""
    held = {mat: why for mat, why in statuses.unfit.items() if why.faults or why.empty}
    shown = list(Mat.objects.filter(pk__in=held).select_related("depot").order_by("number")[:SHOWN])
    faults = defaultdict(list)
    for fault in Fault.objects.holding_back(on).filter(mat__in=shown):
        faults[fault.mat_id].append(fault)
    return Preview([HeldMat(mat, faults[mat.pk], list(held[mat.pk].empty)) for mat in shown], len(held))
