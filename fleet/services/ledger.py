"""Entries of the ledger of the shelf, numbered and counted. Nothing else writes them."""

from collections import Counter

from django.core.exceptions import ValidationError
from django.db.models import Sum

from ..models import StockEntry
from ..models.stock import Pile
from ..selectors.shelf import newest_entry
from .locks import hold_ledger

_OF_ROW = ["depot", "cable_type", "segment", "recorded_by", "load", "number", "left"]


def enter(entries, *, by):
    """Add these to the ledger, in order; returns them. Call inside a transaction that holds what they follow from.

    Raises ValidationError where more is taken than lies there.
    """
    hold_ledger()
    number, left = newest_entry(), _left_now(entries)
    for entry in entries:
        number, same = number + 1, same_as(entry)
        left[same] += entry.change
        if left[same] < 0:
            raise _too_few(entry, left[same] - entry.change)
        entry.number, entry.left, entry.recorded_by = number, left[same], by
        entry.clean_fields(exclude=_OF_ROW)
    return StockEntry.objects.bulk_create(entries, batch_size=500)


def same_as(entry):
    """What the entry is counted with: its cable, or its pile."""
    if entry.segment_id:
        return entry.segment_id
    return entry.cable_type_id, entry.length_m, entry.depot_id, entry.lot


def _left_now(entries):
    """{what is counted together: how many lie there} for all that these entries change."""
    left = Counter()
    piles = StockEntry.objects.without_serial().filter(
        cable_type__in={entry.cable_type_id for entry in entries if not entry.segment_id}
    )
    for *pile, lie_there in piles.counts("cable_type", "length_m", "depot", "lot"):
        left[tuple(pile)] = lie_there
    cables = StockEntry.objects.filter(segment__in={entry.segment_id for entry in entries if entry.segment_id})
    left.update(dict(cables.order_by().values_list("segment").annotate(lie_there=Sum("change"))))
    return left


def _too_few(entry, there):
    pile = Pile(entry.cable_type, entry.length_m, entry.depot, entry.lot)
    lie = f"{there} lie" if there != 1 else "1 lies"
    sentence = f"{lie} on the shelf of {pile}: {-entry.change} cannot be taken. Look again, or count them."
    return ValidationError(sentence, code="too few")
