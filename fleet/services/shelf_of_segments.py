"""The ledger follows the register: cables with a serial come to the shelf and leave it by what is told of them."""

from dataclasses import dataclass

from django.db.models import Exists, OuterRef

from ..choices import StockReason
from ..models import CableSegment, Depot, Fitting, StockEntry
from ..models.stock import kind_length
from ..selectors.deleting import pile_taken_from
from ..selectors.shelf import lying_now
from .corrections import delete_alike
from .ledger import enter
from .locks import hold_ledger

BATCH = 2_000
CORRECTED = "what the register says of it was corrected"
FOUND = "on the shelf by what the register says"


@dataclass(frozen=True)
class Told:
    """What an act knows of the cables that come or go by it, beside what the register says.

    `reason` and `depot`: of those that come. `undone`: an act that never was so is taken back.
    """

    reason: str = ""
    depot: Depot | None = None
    work_order: str = ""
    note: str = ""
    undone: bool = False


def follow_register(segment_ids, *, by, on, told=None):
    """Enter what the register says by now of these cables; nothing where the ledger says the same. Returns the entries.

    Call at the end of an act, before wear is said to have changed.
    """
    hold_ledger()
    told, ids = told or Told(), {pk for pk in segment_ids if pk}
    lying = lying_now(StockEntry.objects.filter(segment__in=ids))
    changed = [segment for segment in _with_place(ids) if _differs(segment, lying.get(segment.pk))]
    if not changed:
        return []
    look = _Look(changed, lying, told, on)
    return enter([entry for segment in changed for entry in look.entries_of(segment)], by=by)


def follow_whole_register(*, by, on, note):
    """As `follow_register` for all cables of which the ledger says something else than the register.

    Those that are on the shelf and not in the ledger are entered as counted, where they lie unknown.
    """
    hold_ledger()
    still_in = Fitting.objects.filter(segment=OuterRef("pk"), removed_on=None)
    on_shelf = CableSegment.objects.filter(~Exists(still_in), withdrawn_on=None).order_by()
    ids = sorted(lying_now(StockEntry.objects.all()).keys() ^ set(on_shelf.values_list("pk", flat=True)))
    told = Told(reason=StockReason.COUNTED, note=note)
    for start in range(0, len(ids), BATCH):
        follow_register(ids[start : start + BATCH], by=by, on=on, told=told)


def leave_ledger(segment, *, by, on, reason):
    """Delete what the ledger says of a segment that never was; taken from a pile, it is counted there again."""
    entries = list(segment.stock_entries.order_by("number"))
    if not entries:
        return
    hold_ledger()
    pile = pile_taken_from(entries[0])
    delete_alike(entries, by=by, reason=reason)
    if pile:
        back = {name: getattr(pile, name) for name in ("cable_type", "length_m", "depot", "lot", "reason")}
        enter([StockEntry(change=1, day=on, note=reason, **back)], by=by)


def _with_place(ids):
    still_in = Fitting.objects.filter(segment=OuterRef("pk"), removed_on=None)
    return CableSegment.objects.filter(pk__in=ids).annotate(is_fitted=Exists(still_in)).order_by("pk")


def _is_on_shelf(segment):
    return segment.withdrawn_on is None and not segment.is_fitted


def _is_of_kind(segment, lying):
    return (segment.cable_type_id, kind_length(segment.length_m)) == (lying.cable_type_id, lying.length_m)


def _differs(segment, lying):
    if not _is_on_shelf(segment):
        return lying is not None
    return lying is None or not _is_of_kind(segment, lying)


class _Look:
    """What entries of these cables say, read at once for all of them."""

    def __init__(self, segments, lying, told, on):
        self.lying, self.told, self.on = lying, told, on
        ids = [segment.pk for segment in segments]
        fittings = Fitting.objects.filter(segment__in=ids).select_related("mat__depot")
        self.fittings = {row.segment_id: row for row in fittings.order_by("fitted_on", "pk")}
        last = StockEntry.objects.filter(segment__in=ids).order_by("number")
        self.last = {entry.segment_id: entry for entry in last}

    def entries_of(self, segment):
        lying = self.lying.get(segment.pk)
        if lying is None:
            return [self._comes(segment)]
        if not _is_on_shelf(segment):
            return [self._goes(segment, lying)]
        corrected = {"day": self.on, "reason": StockReason.COUNTED, "note": CORRECTED, "depot_id": lying.depot_id}
        out = {"cable_type_id": lying.cable_type_id, "length_m": lying.length_m}
        return [
            StockEntry(segment=segment, change=-1, lot=segment.lot, **out, **corrected),
            self._in(segment, **corrected),
        ]

    def _in(self, segment, **values):
        kind = {"cable_type_id": segment.cable_type_id, "length_m": kind_length(segment.length_m)}
        return StockEntry(segment=segment, change=1, lot=segment.lot, **kind, **values)

    def _comes(self, segment):
        told, fitting, last = self.told, self.fittings.get(segment.pk), self.last.get(segment.pk)
        values = {"day": self.on, "depot": told.depot, "work_order": told.work_order, "note": told.note}
        if told.undone and last:
            # it was taken from there
            reason = StockReason.FITTED if last.reason == StockReason.FITTED else StockReason.RETURNED
            values |= {"reason": reason, "depot": last.depot}
        elif told.reason:
            values |= {"reason": told.reason}
        elif fitting:
            values |= {"reason": StockReason.RETURNED, "day": fitting.removed_on, "depot": fitting.mat.depot}
        else:
            values |= {"reason": StockReason.COUNTED, "note": told.note or FOUND}
        return self._in(segment, **values)

    def _goes(self, segment, lying):
        told, fitting, last = self.told, self.fittings.get(segment.pk), self.last[segment.pk]
        values = {"day": self.on, "work_order": told.work_order, "note": told.note, "depot_id": lying.depot_id}
        if told.undone and last.reason == StockReason.RETURNED:
            values |= {"reason": StockReason.RETURNED}
        elif segment.is_fitted:
            values |= {"reason": StockReason.FITTED, "day": fitting.fitted_on}
        else:
            values |= {"reason": StockReason.SCRAPPED, "day": segment.withdrawn_on}
        kind = {"cable_type_id": lying.cable_type_id, "length_m": lying.length_m}
        return StockEntry(segment=segment, change=-1, lot=segment.lot, **kind, **values)
