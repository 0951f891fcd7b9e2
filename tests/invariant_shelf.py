"""What the shelf and its ledger must agree on, recounted entry by entry, for `invariants.py` and tests of the shelf."""

from collections import Counter


def ledger_counts_right(on):
    """Each entry says how many of the same lie there after it: never below 0; of a cable with a serial 1 or 0."""
    from fleet.models import StockEntry

    left = Counter()
    for entry in StockEntry.objects.order_by("number").select_related("segment", "cable_type", "depot"):
        pile = (entry.cable_type_id, entry.length_m, entry.depot_id, entry.lot)
        same = entry.segment_id or pile
        left[same] += entry.change
        if left[same] != entry.left:
            yield f"entry {entry} says {entry.left} are left, counted {left[same]}"
        if left[same] < 0 or (entry.segment_id and left[same] > 1):
            yield f"after entry {entry} there are {left[same]}"


def shelf_is_what_the_ledger_says(on):
    """A cable that the ledger names is on the shelf where the register says so, as what the register says it is."""
    from fleet.models import StockEntry

    shelf, lying = on_shelf_by_register(on), on_shelf_by_ledger()
    named = set(StockEntry.objects.exclude(segment=None).values_list("segment__serial", flat=True))
    for serial in sorted(named):
        if shelf.get(serial) != lying.get(serial):
            yield f"{serial} is on the shelf as {shelf.get(serial)} by the register, {lying.get(serial)} by the ledger"


def every_spare_is_in_the_ledger(on):
    """Not where a test made its rows without the services."""
    missing = on_shelf_by_register(on).keys() - on_shelf_by_ledger().keys()
    for serial in sorted(missing):
        yield f"{serial} is on the shelf and not in the ledger"


def on_shelf_by_register(on):
    """{serial: (cable type, length in m)} of the cables in use that no fitting holds on that day."""
    from fleet.models import CableSegment, Fitting

    held = {
        row.segment_id
        for row in Fitting.objects.all()
        if row.fitted_on <= on and (row.removed_on is None or row.removed_on > on)
    }
    return {
        row.serial: (row.cable_type_id, round(row.length_m, 3))
        for row in CableSegment.objects.all()
        if row.pk not in held and (row.withdrawn_on is None or row.withdrawn_on > on)
    }


def on_shelf_by_ledger():
    """{serial: (cable type, length in m)} of the cables that entries leave on the shelf."""
    from fleet.models import StockEntry

    net = Counter()
    for entry in StockEntry.objects.exclude(segment=None).select_related("segment"):
        net[entry.segment.serial, entry.cable_type_id, entry.length_m] += entry.change
    return {serial: (cable_type, length_m) for (serial, cable_type, length_m), count in net.items() if count}
