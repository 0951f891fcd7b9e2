"""The due list by mat: one line for the cables of a mat that are due alike, for one cause by one day."""

from collections import defaultdict
from dataclasses import dataclass
from itertools import groupby

from django.db.models import Case, Count, F, Min, Value, When

from ..numeric.words import Status, Verdict
from .selectors import NO_PLAN, next_plans

# what the cables of a line share: `_alike` says it of a row
ALIKE = ("urgency", "mat_id", "cause", "asks", "due_on", "before_event_id")


@dataclass(frozen=True)
class DueLine:
    """Assessed segments of one mat, alike in ALIKE, by position; with the mat's next planned event and open orders."""

    rows: list

    @property
    def first(self):
        """Any of them, for what they share."""
        return self.rows[0]

    @property
    def mat(self):
        return self.first.mat

    @property
    def free(self):
        """Those on no open order."""
        return [row for row in self.rows if not row.open_order]

    @property
    def orders(self):
        """Numbers of the open orders that they stand on."""
        return sorted({row.open_order for row in self.rows if row.open_order})

    @property
    def worst(self):
        """The one whose newest reading is worst: without a signal before any loss, not measured last."""
        return max(self.rows, key=_how_bad)


def _how_bad(row):
    over = row.go_no_go and row.verdict == Verdict.OVER
    return row.no_signal, over, row.reference_loss_db or 0.0, row.measured_on is not None


def due_lines(rows):
    """What each line shares, as mappings in the order of its most urgent cable; `rows`: those of `due_list`."""
    alike = _told_apart(rows).order_by().values(*ALIKE)
    return alike.annotate(first=Min("list_key"), cables=Count("pk")).order_by("first")


def lines_of(shared, rows, on):
    """The `DueLine` of each of these mappings, in their order; six queries whatever they hold."""
    shared = list(shared)
    by_line, mat_ids = defaultdict(list), {line["mat_id"] for line in shared}
    of_mats = rows.filter(mat__in=mat_ids).select_related("segment")
    # mats, their plans and events are few beside the cables: read once each
    of_mats, plans = of_mats.prefetch_related("mat", "before_event"), next_plans(mat_ids, on)
    for row in of_mats.with_open_order(on).order_by("position"):
        row.next_event_code, row.next_event_name, row.next_event_on = plans.get(row.mat_id, NO_PLAN)
        by_line[_alike(row)].append(row)
    lines = [by_line[tuple(line[name] for name in ALIKE)] for line in shared]
    # a cable that went between the two queries leaves a line empty
    return [DueLine(of_line) for of_line in lines if of_line]


def lines_among(rows):
    """The same of assessed segments that are read already, in the order of the first of each."""
    by_line = defaultdict(list)
    for row in rows:
        by_line[_alike(row)].append(row)
    return [DueLine(sorted(of_line, key=lambda row: row.position)) for of_line in by_line.values()]


def by_status(lines, counts=None):
    """(StatusCount, lines) of each status that these lines have; `counts`: where they are not all of them."""
    groups = ((status, list(of_status)) for status, of_status in groupby(lines, key=lambda line: line.first.status))
    return [(counts[status] if counts else _count(status, of_status), of_status) for status, of_status in groups]


def _count(status, lines):
    return StatusCount(status, sum(len(line.rows) for line in lines), len({line.first.mat_id for line in lines}))


def _alike(row):
    asks = row.measure_reason if row.to_measure else ""
    return row.urgency, row.mat_id, row.cause, asks, row.due_on, row.before_event_id


def _told_apart(rows):
    """What asks for a measurement tells lines apart only where it is what the status says."""
    asks = Case(When(urgency=Status.MEASURE.order, then=F("measure_reason")), default=Value(""))
    return rows.annotate(asks=asks)


@dataclass(frozen=True)
class StatusCount:
    """How many cables of a status, in how many mats."""

    status: str
    cables: int
    mats: int

    @property
    def is_now(self):
        return self.status == Status.CHANGE_NOW


def counts_with_mats(rows):
    """{status: StatusCount} of the statuses that these rows have, the most urgent first."""
    counted = rows.order_by("urgency").values_list("urgency")
    counted = counted.annotate(cables=Count("pk"), mats=Count("mat", distinct=True))
    statuses = ((Status.of_order(urgency), cables, mats) for urgency, cables, mats in counted)
    return {status: StatusCount(status, cables, mats) for status, cables, mats in statuses}
