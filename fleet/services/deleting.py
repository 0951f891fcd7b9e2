"""What never was so is deleted, and what it displaced is back where it was: each is one act in one transaction.

The trail keeps what a deleted row said, with who deleted it and why.
"""

from functools import reduce
from operator import or_

from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import ProtectedError, Q

from ..models import Fitting
from ..selectors.deleting import undone_with
from ..signals import wear_changed
from .rows import return_row

NAMED = 5


def undo_fitting(fitting, *, by, on, reason):
    """Delete a fitting that never was so; returns what is back where it was, as `Undone`.

    Call inside a transaction that holds the pool. Raises ValidationError where something stands on it.
    """
    assert connection.in_atomic_block, "what it displaced is back in the same act"
    undone = undone_with(fitting)
    refuse_standing(undone.stands)
    why = f"{fitting} was deleted: {reason}"
    delete_row(fitting, by=by, reason=reason)
    for segment in undone.returned:
        return_row(segment, by=by, reason=why)
    for row in undone.reopened:
        row.correct(by=by, reason=why, removed_on=None, removal_reason="")
    for fault in undone.faults:
        fault.correct(by=by, reason=why, ended_on=None, end_reason="")
    segments = {fitting.segment_id, *(row.segment_id for row in undone.reopened)}
    wear_changed.send(Fitting, segment_ids=segments | _segments_of(undone.faults), on=on)
    return undone


def delete_row(row, *, by, reason):
    """Delete it and keep in the trail what it said; ValidationError that names what the database still ties to it."""
    try:
        row.delete_with_trail(by=by, reason=reason)
    except ProtectedError as error:
        tied = sorted(f"{other._meta.verbose_name} {other}" for other in error.protected_objects)
        raise ValidationError(f"Something stands on {row}: {', '.join(tied[:NAMED])}. Nothing is deleted.") from error


def refuse_standing(sentences):
    """ValidationError that names what stands on a row, a sentence each."""
    if sentences:
        raise ValidationError([*sentences, "Nothing is deleted: this stands on it."])


def _segments_of(faults):
    there = [Q(mat=fault.mat, position=fault.position) for fault in faults]
    return set(Fitting.objects.filter(reduce(or_, there, Q(pk=None))).values_list("segment", flat=True))
