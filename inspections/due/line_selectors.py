"""The due list by mat: one line for the cables of a mat that are due alike, for one cause by one day."""

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Case, Count, F, Min, Value, When

from ..numeric.words import Status, Verdict
from .selectors import due_rows

# what the cables of a line share
ALIKE = ("urgency", "mat_id", "cause", "asks", "due_on", "before_event_id")


@dataclass(frozen=True)
class DueLine:
    """Assessed segments of one mat, alike in ALIKE, by position; with what `due_rows` adds."""

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
    """The `DueLine` of each of these mappings, in their order; two queries whatever they hold."""
    shared = list(shared)
    by_line = defaultdict(list)
    of_mats = _told_apart(rows).filter(mat__in={line["mat_id"] for line in shared})
    for row in due_rows(of_mats, on).order_by("position"):
        by_line[tuple(getattr(row, name) for name in ALIKE)].append(row)
    lines = [by_line[tuple(line[name] for name in ALIKE)] for line in shared]
    # a cable that went between the two queries leaves a line empty
    return [DueLine(of_line) for of_line in lines if of_line]


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
