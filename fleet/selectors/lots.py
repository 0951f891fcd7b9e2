"""Lots of cables: where everything of one is, so that a bad lot is found with every position that it sits in."""

from dataclasses import dataclass

from django.db.models import Count, Exists, F, OuterRef, Q

from ..models import CableSegment, Fitting, StockEntry
from ..models.stock import Pile
from ..models.withdrawable import in_use
from .segments import ALL, segments_listed


@dataclass(frozen=True)
class LotCounts:
    """How many cables of a lot are where; `counted`: on the shelf without a serial."""

    lot: str
    in_mats: int = 0
    on_shelf: int = 0
    counted: int = 0
    withdrawn: int = 0

    @property
    def all(self):
        return self.in_mats + self.on_shelf + self.counted + self.withdrawn


def lots_listed(on, *, find=""):
    """`LotCounts` of each lot that is named, by name; `find`: part of it."""
    fitted = Fitting.objects.current(on).filter(segment=OuterRef("pk"))
    segments = CableSegment.objects.exclude(lot="").annotate(is_fitted=Exists(fitted)).order_by()
    entries = StockEntry.objects.without_serial().exclude(lot="")
    if find:
        segments, entries = segments.filter(lot__icontains=find), entries.filter(lot__icontains=find)
    there = Q(is_fitted=False) & in_use(on)
    counts = {
        lot: {"in_mats": in_mats, "on_shelf": on_shelf, "withdrawn": known - in_mats - on_shelf}
        for lot, in_mats, on_shelf, known in segments.values_list("lot").annotate(
            in_mats=Count("pk", filter=Q(is_fitted=True)), on_shelf=Count("pk", filter=there), known=Count("pk")
        )
    }
    for lot, number in entries.counts("lot"):
        counts.setdefault(lot, {})["counted"] = number
    return [LotCounts(lot, **of_lot) for lot, of_lot in sorted(counts.items())]


def counts_of_lot(lot, on):
    """`LotCounts` of exactly this lot."""
    return next((counts for counts in lots_listed(on, find=lot) if counts.lot == lot), LotCounts(lot))


def segments_of_lot(lot, on):
    """Its cables with a serial as `segments_listed` has them, those in mats first."""
    segments = segments_listed(on, where=ALL, lot=lot) if lot else CableSegment.objects.none()
    return segments.order_by(F("in_mat").asc(nulls_last=True), "in_position", "serial") if lot else segments


def piles_of_lot(lot):
    """(pile, how many) of the lot on the shelf without a serial."""
    entries = StockEntry.objects.without_serial().filter(lot=lot).select_related("cable_type", "depot")
    newest = {}
    for entry in entries.order_by("number"):
        newest[Pile(entry.cable_type, entry.length_m, entry.depot, lot)] = entry.left
    return [(pile, left) for pile, left in newest.items() if left]
