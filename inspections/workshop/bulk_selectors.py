"""What is due of a depot, or of all, by mat: of which work orders are raised in one go."""

import hashlib
from dataclasses import dataclass
from itertools import groupby

from fleet.models import Mat

from ..due.selectors import due_list
from ..numeric.words import DUE


@dataclass(frozen=True)
class DueMat:
    """`free`: keys of its due segments that stand on no order in force; `orders`: those that the others stand on."""

    mat: Mat
    free: tuple[int, ...]
    orders: tuple[str, ...]
    on_orders: int


@dataclass(frozen=True)
class AllDue:
    """Mats with something due, by number."""

    mats: list[DueMat]

    @property
    def to_raise(self):
        """The mats that get an order."""
        return [row for row in self.mats if row.free]

    @property
    def segment_ids(self):
        return [pk for row in self.mats for pk in row.free]

    @property
    def left_out(self):
        """How many due segments stand on an order already."""
        return sum(row.on_orders for row in self.mats)

    @property
    def mark(self):
        """Stands for exactly the segments that orders are raised for."""
        return hashlib.sha256(repr(sorted(self.segment_ids)).encode()).hexdigest()[:16]


def all_due(depot, on):
    """`AllDue` of the depot, None: of all, in one query; what is due as the due list says it."""
    rows = due_list(depot=depot).of_status(*DUE).with_open_order(on).select_related("mat__depot")
    rows = rows.order_by("mat__number", "position")
    return AllDue([_due_mat(mat, list(group)) for mat, group in groupby(rows, key=lambda row: row.mat)])


def _due_mat(mat, rows):
    orders = [row.open_order for row in rows if row.open_order]
    free = tuple(row.segment_id for row in rows if not row.open_order)
    return DueMat(mat, free, tuple(sorted(set(orders))), len(orders))
