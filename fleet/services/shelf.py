"""Cables without a serial: received, counted, scrapped, moved. Each is one act in one transaction."""

from collections import Counter

from django.core.exceptions import ValidationError
from django.db import transaction

from ..choices import StockReason
from ..models import CableSegment, StockEntry
from ..models.stock import Pile, kind_of
from ..selectors.shelf import lying_now
from .ledger import enter
from .locks import hold_all, hold_ledger
from .rows import check_day

NOTHING = "Write how many: at least 1."
NO_REASON = "Say why it differs, or that nobody knows: the reason stays in the ledger."


@transaction.atomic
def receive_cables(pile, count, *, by, on, day, note=""):
    """So many cables came and lie there; returns the entries. ValidationError for none, and for a day ahead."""
    check_day("day", day, on, "day on which they came")
    _check_count(count)
    return enter([pile.entry(count, day=day, reason=StockReason.RECEIVED, note=note)], by=by)


@transaction.atomic
def receive_sets(design, count, *, by, on, day, depot=None, lot="", note=""):
    """So many sets, each of one cable per position of the design; they lie there as their cables. As `receive_cables`.

    Raises ValidationError for a design without positions.
    """
    check_day("day", day, on, "day on which they came")
    _check_count(count)
    note = f"{count} {'sets' if count > 1 else 'set'} of {design}{f', {note}' if note else ''}"
    piles = [(Pile(cable_type, length_m, depot, lot), each) for (cable_type, length_m), each in set_of(design).items()]
    if not piles:
        raise ValidationError({"design": f"{design} has no position yet: a set of it is no cable. Add them first."})
    received = {"day": day, "reason": StockReason.RECEIVED, "note": note}
    return enter([pile.entry(each * count, **received) for pile, each in piles], by=by)


def set_of(design):
    """{(cable type, length in m): how many} of one set, in order of the positions."""
    places = design.positions.select_related("cable_type").order_by("number")
    return Counter(kind_of(place.cable_type, place.length_m) for place in places)


@transaction.atomic
def count_cables(counts, *, by, on, reason):
    """What somebody counted: {pile: how many lie there}. Books what differs, with the reason; returns the entries.

    Raises ValidationError for a difference without a reason.
    """
    hold_ledger()
    differing = [(pile, counted - lie_there(pile)) for pile, counted in counts.items()]
    differing = [(pile, change) for pile, change in differing if change]
    if differing and not reason.strip():
        raise ValidationError({"reason": NO_REASON})
    counted = {"day": on, "reason": StockReason.COUNTED, "note": reason.strip()}
    return enter([pile.entry(change, **counted) for pile, change in differing], by=by)


@transaction.atomic
def scrap_cables(pile, count, *, by, on, day, reason):
    """So many of them are thrown away; returns the entries."""
    check_day("day", day, on, "day of scrapping")
    _check_count(count)
    if not reason.strip():
        raise ValidationError({"reason": "Say why they are scrapped."})
    return enter([pile.entry(-count, day=day, reason=StockReason.SCRAPPED, note=reason.strip())], by=by)


@transaction.atomic
def move_cables(pile, count, depot, *, by, on, day, note=""):
    """So many of them lie at another depot from that day on; returns the entries."""
    check_day("day", day, on, "day of moving")
    _check_count(count)
    if depot == pile.depot:
        raise ValidationError({"to": f"They lie {pile.where} already. Choose another depot."})
    there = Pile(pile.cable_type, pile.length_m, depot, pile.lot)
    moved = {"day": day, "reason": StockReason.MOVED, "note": note}
    return enter([pile.entry(-count, **moved), there.entry(count, **moved)], by=by)


@transaction.atomic
def move_segments(segments, depot, *, by, on, day, note=""):
    """These cables with a serial lie at another depot; those that do already stay. Returns the entries.

    Raises ValidationError where one is not on the shelf.
    """
    check_day("day", day, on, "day of moving")
    segments = hold_all(CableSegment.objects.filter(pk__in=[segment.pk for segment in segments]))
    hold_ledger()
    lying = lying_now(StockEntry.objects.filter(segment__in=segments))
    gone = [segment.serial for segment in segments if segment.pk not in lying]
    if gone:
        raise ValidationError(f"Not on the shelf any more: {', '.join(gone[:5])}. Look again.", code="stale")
    moved = {"day": day, "reason": StockReason.MOVED, "note": note}
    depot_id = depot and depot.pk
    entries = []
    for segment in segments:
        place = lying[segment.pk]
        if place.depot_id != depot_id:
            of = {"segment": segment, "lot": segment.lot, **moved}
            of |= {"cable_type_id": place.cable_type_id, "length_m": place.length_m}
            entries += [StockEntry(change=-1, depot_id=place.depot_id, **of), StockEntry(change=1, depot=depot, **of)]
    return enter(entries, by=by)


def lie_there(pile):
    """How many of the pile there are."""
    newest = StockEntry.objects.of_pile(pile).order_by("-number").first()
    return newest.left if newest else 0


def _check_count(count):
    if not count or count < 1:
        raise ValidationError({"count": NOTHING})
