"""What never was so is deleted, each with a reason, in one transaction that has the pool to itself."""

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.models import Fitting
from fleet.selectors.deleting import undone_with
from fleet.services.confirmation import weighed
from fleet.services.deleting import refuse_standing, undo_fitting
from fleet.services.locks import hold_pool

from ..assessment.services import reassess
from ..choices import OrderState, Taken
from ..models import WorkOrderLine
from .selectors import deletion_of_fitting, lines_answered_by

TO_DO = (OrderState.OPEN, OrderState.BEGUN)


@transaction.atomic
def delete_fitting(fitting, *, by, on, reason, readings=False, follows=None, seen_version=None, confirmed=None):
    """Delete a fitting that never was so; what it displaced is back. Returns what was said beforehand, as `Deletion`.

    `readings`: those of its cable from that time never were either, and become void. `follows`: the mark of what the
    person was told. Raises ValidationError where something stands on it, and where other things follow by now;
    WantsConfirmation where much follows for other cables; `confirmed` as in `weighed`.
    """
    fitting = _held(fitting, reason, seen_version)
    deletion, undone = deletion_of_fitting(fitting), undone_with(fitting)
    _check(deletion, follows)
    lines = [line.pk for line in lines_answered_by(fitting, undone)]
    with weighed(fitting.segment, *(row.segment for row in undone.reopened), on=on, confirmed=confirmed):
        _put_right(deletion.readings, readings, by, on, reason)
        undo_fitting(fitting, by=by, on=on, reason=reason)
    _ask_again(lines, by, on, reason)
    reassess([fitting.segment_id], on=on)
    return deletion


def _held(row, reason, seen_version):
    """The row as it is once nobody else can change anything, a copy: the caller's is still asked about afterwards."""
    hold_pool()
    if not reason.strip():
        raise ValidationError({"reason": "Say why it is deleted: the reason stays in the list of changes."})
    stored = type(row)._base_manager.filter(pk=row.pk).first()
    if stored is None:
        raise ValidationError("Nothing is left to delete.")
    stored.check_version(seen_version)
    return stored


def _check(deletion, follows):
    refuse_standing(deletion.stands)
    if follows not in (None, deletion.mark):
        raise ValidationError(
            "Somebody else changed something meanwhile, and now something else follows. Look at it again.", code="stale"
        )


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
        line.is_open = order.state_on(on) in TO_DO and _may_open(line)
        line.save(update_fields=["is_open", "done_on", "new_segment", "answered_by"])


def _may_open(line):
    there = Fitting.objects.filter(mat=line.work_order.mat_id, position=line.position, removed_on=None)
    taken = WorkOrderLine.objects.filter(segment=line.segment_id, is_open=True).exclude(pk=line.pk)
    return there.filter(segment=line.segment_id).exists() and not taken.exists()
