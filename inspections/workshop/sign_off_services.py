"""The lines of work orders answered, by the order or by any other change; an order signed off once all are."""

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.access import name_of
from fleet.models import Fitting
from fleet.services.locks import hold_pool
from fleet.services.rows import check_day

from ..models import WorkOrder, WorkOrderLine
from .change_services import change_cables
from .services import refuse_closed


@transaction.atomic
def answer_order(order, *, by, on, changed_on, changes=(), left=None, **change):
    """Tell what was done by an order: `changes` as in `change_cables`, with what else that takes; `left` by position
    the reason. Once no line is to do, the order is signed off by who did it. Returns (the order, `Changed` or None).

    One transaction. Raises ValidationError for an order that is signed off, renewed or withdrawn, a line that is
    answered already, and all that `change_cables` refuses or asks about.
    """
    hold_pool()
    order = WorkOrder.objects.select_related("mat__design", "renewed_as").get(pk=order.pk)
    refuse_closed(order, on)
    check_day("changed_on", changed_on, on, "day of the change")
    who = (change.get("bench") and change["bench"].measured_by) or name_of(by)
    if not changes and not left and order.count_to_do():
        raise ValidationError("Tick what was changed, or say why a cable was left.", code="empty")
    _leave(order, left or {}, who)
    changed = None
    if changes:
        change |= {"changed_on": changed_on, "work_order": order.number}
        changed = change_cables(order.mat, changes, by=by, on=on, **change)
        order.lines.filter(position__in=[row.position for row in changes], done_on=changed_on).update(answered_by=who)
    if not order.count_to_do():
        order.correct(by=by, reason="every line is answered", signed_on=on, signed_by=who)
    return order, changed


def _leave(order, left, who):
    lines = {line.position: line for line in order.lines.filter(is_open=True)}
    for position, reason in left.items():
        if position not in lines:
            raise ValidationError(f"Position {position} of {order} is answered already. Look again.", code="stale")
        if not reason.strip():
            raise ValidationError(f"Say why position {position} was left.")
        line = lines[position]
        line.left_reason, line.answered_by, line.is_open = reason.strip(), who, False
        line.clean_fields()
        line.save(update_fields=["left_reason", "answered_by", "is_open"])


def answer_lines(sender, segment_ids, on, **kwargs):
    """A cable that came out answers the line that asked for it, whoever changed it and wherever they told it."""
    if segment_ids is None:
        return
    lines = list(WorkOrderLine.objects.overtaken(list(segment_ids)).select_related("work_order"))
    ended = _ended({line.segment_id for line in lines})
    for line in lines:
        fitting = ended.get((line.segment_id, line.work_order.mat_id, line.position))
        line.is_open = False
        if fitting:
            line.done_on, line.new_segment = fitting.removed_on, _next_in(fitting)
            line.answered_by = name_of(fitting.history.order_by("history_id").last().history_user)
    WorkOrderLine.objects.bulk_update(lines, ["is_open", "done_on", "new_segment", "answered_by"])


def _ended(segment_ids):
    """{(segment, mat, position): the newest fitting there that ended}"""
    rows = Fitting.objects.filter(segment__in=segment_ids).exclude(removed_on=None).order_by("removed_on", "pk")
    return {(row.segment_id, row.mat_id, row.position): row for row in rows.prefetch_related("ended_by__segment")}


def _next_in(fitting):
    """The segment that took its place; None where the position stayed empty."""
    return next((later.segment for later in fitting.ended_by.all()), None)
