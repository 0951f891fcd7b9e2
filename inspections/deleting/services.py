"""What never was so is deleted, each with a reason, in one transaction that has the pool to itself."""

from django.db import transaction

from fleet.models import Fitting
from fleet.selectors.deleting_fittings import told_lately, undone_with
from fleet.services.confirmation import weighed
from fleet.services.corrections import delete_alike
from fleet.services.deleting import check_told, hold_to_delete, refuse_standing, undo_fitting, undo_mat, undo_segment

from ..assessment.services import reassess
from ..choices import IN_FORCE, Taken
from ..models import WorkOrderLine
from .selectors import deletion_of_fitting, deletion_of_mat, deletion_of_segment, lines_answered_by


@transaction.atomic
def delete_fitting(
    fitting, *, by, on, reason, readings=False, cables=False, follows=None, seen_version=None, confirmed=None
):
    """Delete a fitting that never was so; what it displaced is back. Returns what was said beforehand, as `Deletion`.

    `readings`: those of its cable from that time never were either, and become void. `cables`: nor was the cable, of
    which nothing else is known, and it goes too. `follows`: the mark of what the person was told. Raises
    ValidationError where something stands on it, and where other things follow by now;
    WantsConfirmation where much follows for other cables, but for a fitting that was told lately: that one was not
    asked about either. `confirmed` as in `weighed`.
    """
    fitting = hold_to_delete(fitting, reason, seen_version)
    deletion, undone = deletion_of_fitting(fitting), undone_with(fitting)
    check_told(deletion, follows)
    confirmed = None if told_lately(fitting, on) else confirmed
    lines = [line.pk for line in lines_answered_by(fitting, undone)]
    with weighed(fitting.segment, *(row.segment for row in undone.reopened), on=on, confirmed=confirmed):
        _put_right(deletion.readings, readings, by, on, reason)
        undo_fitting(fitting, by=by, on=on, reason=reason)
    _ask_again(lines, by, on, reason)
    reassess([fitting.segment_id], on=on)
    _cables_go(deletion.cables if cables else (), by, on, reason)
    return deletion


@transaction.atomic
def delete_segment(segment, *, by, on, reason, follows=None, seen_version=None):
    """Delete a cable that never was, with its void readings and its notes; raises as `delete_fitting` does."""
    segment = hold_to_delete(segment, reason, seen_version)
    deletion = deletion_of_segment(segment)
    check_told(deletion, follows)
    _cables_go([segment], by, on, reason)
    return deletion


@transaction.atomic
def delete_mat(mat, *, by, on, reason, cables=False, follows=None, seen_version=None):
    """Delete a mat that never was, with its fittings; `cables`: those of which nothing else is known never were either.

    Raises as `delete_fitting` does.
    """
    mat = hold_to_delete(mat, reason, seen_version)
    deletion = deletion_of_mat(mat, on)
    check_told(deletion, follows)
    fitted = list(mat.fittings.values_list("segment", flat=True))
    undo_mat(mat, by=by, on=on, reason=reason)
    reassess(fitted, on=on)
    _cables_go(deletion.cables if cables else (), by, on, reason)
    return deletion


def _cables_go(segments, by, on, reason):
    """Refused where something is known of one by now, such as a reading that was not to become void."""
    for segment in segments:
        refuse_standing(deletion_of_segment(segment).stands)
        delete_alike(segment.sweeps.all(), by=by, reason=reason)
        delete_alike(segment.measurements.all(), by=by, reason=reason)
        undo_segment(segment, by=by, on=on, reason=reason)


def _put_right(readings, become_void, by, on, reason):
    """Readings become void, or stay as those of a cable that nobody had just fitted."""
    for reading in readings:
        if become_void:
            reading.correct(by=by, reason=reason, voided_on=on, void_reason=reason)
        elif reading.taken == Taken.AT_FITTING:
            reading.correct(by=by, reason="it was not fitted", taken=Taken.AS_FOUND)


def _ask_again(ids, by, on, reason):
    """They are answered no longer, and to be done again where their order is in force and their cable is back."""
    for line in WorkOrderLine.objects.filter(pk__in=ids).select_related("work_order"):
        order = line.work_order
        order.correct(by=by, reason=reason, signed_on=None, signed_by="")
        line.done_on, line.new_segment, line.answered_by = None, None, ""
        line.is_open = order.state_on(on) in IN_FORCE and _may_open(line)
        line.save(update_fields=["is_open", "done_on", "new_segment", "answered_by"])


def _may_open(line):
    there = Fitting.objects.filter(mat=line.work_order.mat_id, position=line.position, removed_on=None)
    taken = WorkOrderLine.objects.filter(segment=line.segment_id, is_open=True).exclude(pk=line.pk)
    return there.filter(segment=line.segment_id).exists() and not taken.exists()
