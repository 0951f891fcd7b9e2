"""What a person does with all that lies there of one kind, with a serial and without: each is one transaction."""

from django.core.exceptions import ValidationError
from django.db import transaction

from ..models import StockEntry
from ..selectors.shelf import newest_entry
from .locks import hold, hold_ledger
from .register import withdraw_segment
from .shelf import NO_REASON, count_cables, move_cables, move_segments, scrap_cables


@transaction.atomic
def count_kind(counts, missing=(), *, by, on, reason, seen=None):
    """{pile: how many were counted}, and the cables with a serial that are not there: these are withdrawn.

    Raises as `count_cables` does; a cable that is missing is a difference too.
    """
    hold(*missing)
    _refuse_changed(counts, seen)
    if missing and not reason.strip():
        raise ValidationError({"reason": NO_REASON})
    for segment in missing:
        withdraw_segment(segment, by=by, on=on, reason=reason)
    return count_cables(counts, by=by, on=on, reason=reason)


@transaction.atomic
def move_kind(counts, segments, to, *, by, on, day, note="", seen=None):
    """So many of each pile, and these cables with a serial, lie at another depot. Raises as `move_cables` does."""
    hold(*segments)
    _refuse_changed(counts, seen)
    for pile, count in _some(counts):
        move_cables(pile, count, to, by=by, on=on, day=day, note=note)
    if segments:
        move_segments(segments, to, by=by, on=on, day=day, note=note)


@transaction.atomic
def scrap_kind(counts, *, by, on, day, reason, seen=None):
    """So many of each pile are thrown away. Raises as `scrap_cables` does."""
    _refuse_changed(counts, seen)
    for pile, count in _some(counts):
        scrap_cables(pile, count, by=by, on=on, day=day, reason=reason)


def _some(counts):
    return [(pile, count) for pile, count in counts.items() if count]


def _refuse_changed(piles, seen):
    """Refuse (code `stale`) where the ledger says more of one of these piles than the person saw."""
    hold_ledger()
    if seen is None or newest_entry() <= seen:
        return
    for pile in piles:
        if StockEntry.objects.of_pile(pile).filter(number__gt=seen).exists():
            sentence = f"Somebody else has just changed what lies on the shelf of {pile}. Look at the numbers again."
            raise ValidationError(sentence, code="stale")
