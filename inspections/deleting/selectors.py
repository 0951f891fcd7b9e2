"""Before something is deleted: what stands on it, and what follows."""

import hashlib
from dataclasses import dataclass

from django.db.models import Q

from fleet.selectors.deleting import undone_with

from ..models import Measurement, WorkOrderLine


@dataclass(frozen=True)
class Deletion:
    """One row with what is said before it is deleted, a sentence each; with one in `stands` it stays."""

    row: object
    stands: tuple[str, ...] = ()
    follows: tuple[str, ...] = ()
    # readings of the cable from its time in that position; they are void where the person says so
    readings: tuple[Measurement, ...] = ()

    @property
    def mark(self):
        """Stands for exactly what was said, so that an act that came too late is known."""
        said = (self.row.pk, self.stands, self.follows, [str(reading) for reading in self.readings])
        return hashlib.sha256(repr(said).encode()).hexdigest()[:16]


def was_deleted(model, **of):
    """There was such a row, and there is none now."""
    return not model.objects.filter(**of).exists() and model.history.filter(history_type="-", **of).exists()


def deletion_of_fitting(fitting):
    undone = undone_with(fitting)
    lines = lines_answered_by(fitting, undone)
    signed = {line.work_order: None for line in lines if line.work_order.signed_on}
    return Deletion(
        fitting,
        stands=(*undone.stands, *_orders_for(fitting, undone)),
        follows=(
            *undone.follows,
            *(_asks_again(line, undone) for line in lines),
            *(f"Work order {order} is not signed off any more." for order in signed),
        ),
        readings=tuple(readings_of_fitting(fitting)),
    )


def readings_of_fitting(fitting):
    """Readings of its segment, not void, of the days that it is said to have been there."""
    taken = fitting.segment.measurements.filter(measured_on__gte=fitting.fitted_on, voided_on=None)
    if fitting.removed_on:
        taken = taken.filter(measured_on__lt=fitting.removed_on)
    return list(taken.order_by("measured_on", "repeat"))


def lines_answered_by(fitting, undone):
    """Lines of work orders that this change answered, or that were closed as it went in without being answered."""
    back = [row.segment_id for row in undone.reopened]
    here = WorkOrderLine.objects.filter(work_order__mat=fitting.mat, position=fitting.position, is_open=False)
    again = fitting.segment.fittings.filter(mat=fitting.mat, position=fitting.position).exclude(pk=fitting.pk)
    told = Q(new_segment=fitting.segment) & ~Q(done_on__in=again.values("fitted_on"))
    untold = Q(done_on=None, left_reason="", segment__in=back)
    newest = {}
    lines = here.filter(told | untold).select_related("work_order", "segment").order_by("-pk")
    return [line for line in lines if newest.setdefault(line.segment_id, line) is line or line.done_on]


def _asks_again(line, undone):
    if line.segment_id in {row.segment_id for row in undone.reopened}:
        return f"Work order {line.work_order} asks for {line.segment} in position {line.position} again."
    return f"Position {line.position} of work order {line.work_order} is not done any more."


def _orders_for(fitting, undone):
    """Work orders that send somebody to this cable in this place, where it will not be."""
    place = (fitting.segment_id, fitting.mat_id, fitting.position)
    if any((row.segment_id, row.mat_id, row.position) == place for row in undone.reopened):
        return
    lines = fitting.segment.work_order_lines.filter(is_open=True, work_order__mat=fitting.mat)
    for line in lines.filter(position=fitting.position).select_related("work_order"):
        yield f"{fitting.segment} stands on work order {line.work_order}. Withdraw that first."
