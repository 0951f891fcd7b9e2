"""What never was so is deleted, and what it displaced is back where it was: each is one act in one transaction.

The trail keeps what a deleted row said, with who deleted it and why. Call these inside a transaction that holds the
pool. They raise ValidationError where something stands on the row.
"""

from functools import reduce
from operator import or_

from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.db.models import ProtectedError, Q
from django.urls import reverse

from ..models import Event, FaultPhoto, Fitting, MatDay
from ..models.usage import USUAL_USE
from ..selectors.deleting import NAMED, deletion_of_event, standing_on_mat, standing_on_segment
from ..selectors.deleting_fittings import undone_with
from ..signals import wear_changed
from .corrections import delete_alike
from .locks import hold_pool
from .rows import return_row
from .settling import notify_wear
from .shelf_of_segments import Told, follow_register, leave_ledger
from .submissions import answer_elsewhere


def undo_fitting(fitting, *, by, on, reason):
    """Delete a fitting that never was so; returns what is back where it was, as `Undone`."""
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
    follow_register(segments, by=by, on=on, told=Told(note=reason, undone=True))
    wear_changed.send(Fitting, segment_ids=segments | _segments_of(undone.faults), on=on)
    return undone


@transaction.atomic
def delete_event(event, *, by, on, reason, follows=None, seen_version=None):
    """Delete an event that nobody held or planned, with what is said of its mats, and its series if it was the last.

    Returns what was said beforehand. `follows`: the mark of what the person was told. Raises ValidationError where
    something stands on it, and where other things follow by now.
    """
    event = hold_to_delete(event, reason, seen_version)
    deletion = deletion_of_event(event)
    check_told(deletion, follows)
    usage, series = list(event.usage_events.all()), event.series
    _delete_usage(usage, by, reason)
    delete_alike(event.notes.all(), by=by, reason=reason)
    delete_row(event, by=by, reason=reason)
    if series and not series.events.exists():
        answer_elsewhere(series, reverse("fleet:event-list"))
        delete_row(series, by=by, reason=reason)
    answer_elsewhere(event, reverse("fleet:event-list"))
    notify_wear([row.mat_id for row in usage], on)
    return deletion


def undo_segment(segment, *, by, on, reason):
    """Delete a cable segment that never was, with its notes and what the ledger says of it.

    One that was counted without a serial before is counted so again.
    """
    refuse_standing(standing_on_segment(segment))
    delete_alike(segment.notes.all(), by=by, reason=reason)
    leave_ledger(segment, by=by, on=on, reason=reason)
    delete_row(segment, by=by, reason=reason)
    answer_elsewhere(segment, reverse("fleet:segment-list"))


def undo_mat(mat, *, by, on, reason):
    """Delete a mat that never was, with its fittings, usual use, notes, and closed faults with their photos.

    Its cables are back where they were until they were moved into it, else on the shelf.
    """
    refuse_standing(standing_on_mat(mat, on))
    usage = list(mat.usage_events.all())
    _delete_usage(usage, by, reason)
    _delete_usual_use_of_nobody([row.event_id for row in usage], by, reason)
    for rows in (FaultPhoto.objects.filter(fault__mat=mat), mat.faults.all(), mat.notes.all()):
        delete_alike(rows, by=by, reason=reason)
    for pk in mat.fittings.order_by("-fitted_on", "-pk").values_list("pk", flat=True):
        undo_fitting(Fitting.objects.get(pk=pk), by=by, on=on, reason=reason)
    delete_row(mat, by=by, reason=reason)
    answer_elsewhere(mat, reverse("fleet:mat-list"))


def _delete_usage(rows, by, reason):
    MatDay.objects.filter(usage_event__in=rows).delete()
    delete_alike(rows, by=by, reason=reason)


def _delete_usual_use_of_nobody(event_ids, by, reason):
    left = Event.objects.filter(pk__in=event_ids, name=USUAL_USE, usage_events=None, notes=None)
    delete_alike(left, by=by, reason=reason)


def hold_to_delete(row, reason, seen_version):
    """The row as it is once nobody else can change anything, a copy: the caller's is still asked about afterwards."""
    hold_pool()
    if not reason.strip():
        raise ValidationError({"reason": "Say why it is deleted: the reason stays in the list of changes."})
    stored = type(row)._base_manager.filter(pk=row.pk).first()
    if stored is None:
        raise ValidationError("Nothing is left to delete.")
    stored.check_version(seen_version)
    return stored


def check_told(deletion, follows):
    """Refuse where something stands on the row, or other things follow than the person was told."""
    refuse_standing(deletion.stands)
    if follows not in (None, deletion.mark):
        raise ValidationError(
            "Somebody else changed something meanwhile, and now something else follows. Look at it again.", code="stale"
        )


def delete_row(row, *, by, reason):
    """Delete it and keep in the trail what it said; ValidationError that names what the database still ties to it."""
    try:
        row.delete_with_trail(by=by, reason=reason)
    except ProtectedError as error:
        tied = sorted(f"{other._meta.verbose_name} {other}" for other in error.protected_objects)
        raise ValidationError(f"Something stands on {row}: {', '.join(tied[:NAMED])}. Nothing is deleted.") from error


def refuse_standing(sentences):
    """ValidationError that names what stands on a row, a sentence each."""
    sentences = list(sentences)
    if sentences:
        raise ValidationError([*sentences, "Nothing is deleted: this stands on it."])


def _segments_of(faults):
    there = [Q(mat=fault.mat, position=fault.position) for fault in faults]
    return set(Fitting.objects.filter(reduce(or_, there, Q(pk=None))).values_list("segment", flat=True))
