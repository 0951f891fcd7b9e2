"""What the first page asks for: to be answered, to be changed, held back, about to go, to be measured."""

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date

from fleet.models import Event, Fault, Mat
from fleet.selectors.loans import with_loans
from fleet.selectors.numbering import renamed_codes
from fleet.selectors.usage import count_unanswered, unanswered_events
from fleet.selectors.whereabouts import mats_away

from ...assessment.condition_selectors import MatStatuses
from ...assessment.unfit import UnfitMats
from ...due.selectors import kinds_to_change_now
from ...due.unknown_selectors import UnknownCables
from ...models import WorkOrder
from .going_selectors import GoingEvents, PlannedMats
from .task_selectors import CHANGE, MEASURE, SHOWN, UNKNOWN, Preview, Tasks


@dataclass(frozen=True)
class HeldMat:
    mat: Mat
    faults: list = field(default_factory=list)
    empty: list = field(default_factory=list)


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
    waiting, away, tasks, planned = unanswered_events(on), mats_away(on), Tasks(on), PlannedMats(on)
    known = UnfitMats(None, on, planned.last_day)
    statuses = MatStatuses(Mat.objects.in_use(on), on, known)
    before_on, cables_before = tasks.before_the_soonest
    return Today(
        unanswered=Preview(with_loans(waiting[:SHOWN], on), count_unanswered(on)),
        cables_to_change=tasks.cables(CHANGE),
        kinds_now=kinds_to_change_now(),
        before_on=before_on,
        cables_before=cables_before,
        change=tasks.preview(CHANGE),
        orders=_orders(on),
        held_back=_held_back(statuses, on),
        going=planned.not_fit(known, SHOWN),
        measure=tasks.preview(MEASURE),
        unknown=tasks.preview(UNKNOWN),
        unknown_cables=tasks.unknown_cables,
        away=Preview(away[:SHOWN], len(away)),
        next_event=planned.next_event(),
        has_mats=bool(statuses.of),
        mats=statuses.counts,
        renamed=renamed_codes(),
    )


def _orders(on):
    asking = WorkOrder.objects.asking(on)
    return Preview(list(asking.with_counts().select_related("mat__depot")[:SHOWN]), asking.count())


def _held_back(statuses, on):
    """Those that a fault or an empty position keeps at home, whatever their cables are worth."""
    held = {mat: why for mat, why in statuses.unfit.items() if why.faults or why.empty}
    shown = list(Mat.objects.filter(pk__in=held).select_related("depot").order_by("number")[:SHOWN])
    faults = defaultdict(list)
    for fault in Fault.objects.holding_back(on).filter(mat__in=shown):
        faults[fault.mat_id].append(fault)
    return Preview([HeldMat(mat, faults[mat.pk], list(held[mat.pk].empty)) for mat in shown], len(held))
