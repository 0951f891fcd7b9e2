"""Several orders printed as one document: which, and what they need together."""

from collections import Counter
from dataclasses import dataclass

from fleet.choices import LengthBasis
from fleet.models.stock import kind_of
from fleet.selectors.shelf import shelf_by_kind

from ..choices import TELLABLE
from ..models import WorkOrder

# some three hundred sheets; with more in force, choose a depot
MOST_ORDERS = 300


@dataclass(frozen=True)
class Part:
    """Cables of one kind that the orders ask for, and how many of it lie on the shelf."""

    cable_type: str
    length_m: float
    estimated: bool
    count: int
    on_shelf: int

    @property
    def missing(self):
        return max(self.count - self.on_shelf, 0)


def orders_to_print(on, *, order=(), depot=None):
    """The orders named, else those in force on that day, of one depot or of all; by depot and mat."""
    orders = order or WorkOrder.objects.in_force(on)
    if depot:
        orders = orders.filter(mat__depot=depot)
    orders = orders.with_sheet().order_by("mat__depot__name", "mat__number", "raised_on", "number")
    return list(orders[: MOST_ORDERS + 1])


def parts_of(orders, on):
    """`Part` of each kind of cable that is still to be changed by these orders, in one query."""
    needed = Counter(kind for order in orders for kind in _kinds_to_do(order, on))
    shelf = shelf_by_kind(on) if needed else {}
    return [
        Part(name, length_m, basis == LengthBasis.ESTIMATED, count, shelf.get(kind_of(name, length_m), 0))
        for (name, length_m, basis), count in sorted(needed.items())
    ]


def lines_to_do(order, on):
    """Lines of the order that nobody has answered; none where the order is not to be worked."""
    return [line for line in order.lines.all() if not line.is_answered] if order.state_on(on) in TELLABLE else []


def _kinds_to_do(order, on):
    wanted = {line.position for line in lines_to_do(order, on)}
    for place in order.sheet["positions"]:
        if place["change"] and place["position"] in wanted:
            yield place["cable_type"], place["length_m"], place.get("length_basis", "")


def tools_of(orders):
    """What each cable type takes, as the sheets have it, each once."""
    tools = {tuple(tool.items()): tool for order in orders for tool in order.sheet["tools"]}
    return sorted(tools.values(), key=lambda tool: tool["cable_type"])
