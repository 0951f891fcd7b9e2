"""What lies on the shelf of the demo pool: spares, boxes without a serial and a set, and what became of them."""

from datetime import timedelta

from fleet.choices import StockReason
from fleet.models import CableSegment, CableType, Depot, MatDesign
from fleet.models.stock import Pile
from fleet.services.shelf import count_cables, move_cables, receive_cables, receive_sets, scrap_cables
from fleet.services.shelf_of_segments import Told, follow_register

from . import names

# days ago
DELIVERED, SET_CAME, MOVED, CRUSHED, COUNTED = 210, 75, 60, 33, 12
BOX = 12


def fill_shelf(on, *, by):
    """Enter what came to the shelf and left it; spares are spread over the depots."""
    depots = [Depot.objects.get(name=name) for name in names.DEPOTS]
    delivered = on - timedelta(days=DELIVERED)
    spares = CableSegment.objects.on_shelf(on).order_by("serial")
    new = list(spares.filter(fittings=None).values_list("pk", flat=True))
    follow_register(spares.exclude(fittings=None).values_list("pk", flat=True), by=by, on=delivered)
    for place, depot in enumerate(depots):
        told = Told(reason=StockReason.RECEIVED, depot=depot, note="spring delivery")
        follow_register(new[place :: len(depots)], by=by, on=delivered, told=told)
    _boxes(on, depots, f"{delivered.year}-1", by)


def _boxes(on, depots, lot, by):
    """Cables without a serial: a box of the length that most mats of 2 m need, and a set for one of 4 m."""
    quay, mill, hangar = depots
    short = names.BUILDS[0]
    box = Pile(CableType.objects.get(name=short.cable_type), short.lengths_m[1], quay, lot)
    acts = {"by": by, "on": on}
    receive_cables(box, BOX, day=on - timedelta(days=DELIVERED), note="spring delivery", **acts)
    move_cables(box, 3, hangar, day=on - timedelta(days=MOVED), **acts)
    scrap_cables(box, 1, day=on - timedelta(days=CRUSHED), reason="crushed under a crate", **acts)
    design = MatDesign.objects.get(code=names.BUILDS[1].code)
    set_came = on - timedelta(days=SET_CAME)
    receive_sets(design, 1, day=set_came, depot=mill, lot=f"{set_came.year}-2", note="for M-020", **acts)
    counted = on - timedelta(days=COUNTED)
    count_cables({box: BOX - 5}, by=by, on=counted, reason="one less than the ledger said, nobody knows why")
