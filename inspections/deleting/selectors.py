"""Before something is deleted: what stands on it, and what follows."""

from functools import reduce
from operator import or_

from django.db.models import Q

from fleet.figures import short_day
from fleet.models import CableSegment, Event, Fitting, Mat
from fleet.selectors.deleting import (
    NAMED,
    Deletion,
    going_with_mat,
    ledger_going,
    notes_going,
    standing_on_mat,
    standing_on_segment,
)
from fleet.selectors.deleting_fittings import undone_with
from fleet.selectors.trail import deleted_rows, newest_first

from ..models import BatchValue, Measurement, Sweep, WorkOrderLine


def deletion_of_segment(segment):
    void = segment.measurements.exclude(voided_on=None).order_by("measured_on", "repeat")
    return Deletion(
        segment,
        stands=(
            *standing_on_segment(segment),
            *_measured(segment),
            *_swept(segment),
            *_ordered(segment),
            *_batched(segment),
        ),
        follows=(
            *(f"The void reading of {short_day(reading.measured_on)} goes with it." for reading in void),
            *(f"{sweep} goes with it." for sweep in segment.sweeps.exclude(reading=None)),
            *notes_going(segment),
            *ledger_going(segment),
        ),
    )


def _measured(segment):
    for reading in segment.measurements.filter(voided_on=None).order_by("measured_on", "repeat")[:NAMED]:
        yield f"It was measured: {reading}. Make that reading void first."


def _swept(segment):
    """Sweeps go with their void readings; one without a reading was still taken of this cable."""
    for sweep in segment.sweeps.filter(reading=None)[:NAMED]:
        yield f"{sweep} is kept, and stays. Withdraw the cable instead."


def _ordered(segment):
    for number in sorted(set(_lines_of([segment]).values_list("work_order__number", flat=True))):
        yield f"Work order {number} names it, and stays. Withdraw the cable instead."


def _batched(segment):
    for number in sorted(set(segment.batch_values.values_list("batch__number", flat=True))):
        yield f"Batch {number} names it, and stays. Withdraw the cable instead."


def _lines_of(segments):
    return WorkOrderLine.objects.filter(Q(segment__in=segments) | Q(new_segment__in=segments))


def deletion_of_mat(mat, on):
    numbers = mat.work_orders.order_by("number").values_list("number", flat=True)
    samples = mat.sampled.order_by("pk").values_list("sample__number", flat=True)
    drawn = (f"It was drawn into sample {number}, which stays. Withdraw the mat instead." for number in samples)
    cables = CableSegment.objects.filter(fittings__mat=mat).distinct()
    orders = (f"Work order {number} was raised for it, and stays. Withdraw the mat instead." for number in numbers)
    return Deletion(
        mat,
        stands=(*standing_on_mat(mat, on), *orders, *drawn, *_moved_on(mat)),
        follows=(*_back_elsewhere(mat), *going_with_mat(mat)),
        cables=tuple(_known_of_here_only(cables, mat.fittings.all())),
    )


def _moved_on(mat):
    for later in Fitting.objects.filter(moved_from__mat=mat).exclude(mat=mat).select_related("segment", "mat"):
        yield f"{later.segment} was moved from it to {later.mat} position {later.position}. Delete that fitting first."


def _back_elsewhere(mat):
    moved = mat.fittings.exclude(moved_from=None).exclude(moved_from__mat=mat).select_related("segment", "mat")
    for row in (row for fitting in moved for row in undone_with(fitting).reopened if row.mat_id != mat.pk):
        yield f"{row.segment} is in {row.mat} position {row.position} again."


def _known_of_here_only(segments, fittings, readings=(), lines=()):
    """Those of which nothing is known but these fittings, these readings and these lines that they answered."""
    valid = Measurement.objects.filter(voided_on=None).exclude(pk__in=[reading.pk for reading in readings])
    orders = _lines_of(segments).exclude(pk__in=[line.pk for line in lines])
    swept = Sweep.objects.filter(segment__in=segments, reading=None).values_list("segment", flat=True)
    named = {pk for pair in orders.values_list("segment", "new_segment") for pk in pair}
    elsewhere = Fitting.objects.filter(segment__in=segments).exclude(pk__in=fittings)
    known = named.union(
        swept,
        valid.filter(segment__in=segments).values_list("segment", flat=True),
        elsewhere.values_list("segment", flat=True),
        BatchValue.objects.filter(segment__in=segments).values_list("segment", flat=True),
    )
    return [segment for segment in segments if segment.pk not in known]


def deletion_of_fitting(fitting):
    undone = undone_with(fitting)
    readings = tuple(readings_of_fitting(fitting))
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
        readings=readings,
        cables=tuple(_known_of_here_only([fitting.segment], [fitting.pk], readings, lines)),
    )


def readings_of_fitting(fitting):
    """Readings of its segment, not void, of the days that it is said to have been there."""
    taken = fitting.segment.measurements.filter(measured_on__gte=fitting.fitted_on, voided_on=None)
    if fitting.removed_on:
        taken = taken.filter(measured_on__lt=fitting.removed_on)
    return list(taken.order_by("measured_on", "repeat"))


def lines_answered_by(fitting, undone):
    """Lines of work orders that this change answered: for what comes back, or with its cable; the newest first."""
    here = Q(work_order__mat=fitting.mat, position=fitting.position, new_segment=fitting.segment)
    asked = reduce(or_, (_asked_for(row, fitting) for row in undone.reopened), here & ~Q(done_on__in=_again(fitting)))
    lines = WorkOrderLine.objects.filter(asked, is_open=False, left_reason="").select_related("work_order", "segment")
    newest = {}
    return [line for line in lines.order_by("-pk") if newest.setdefault(line.segment_id, line) is line or line.done_on]


def _asked_for(row, fitting):
    """The condition: it asks for this row's cable, which came out as the fitting went in and never before that day."""
    asked = Q(work_order__mat=row.mat_id, position=row.position, segment=row.segment_id)
    before = row.segment.fittings.filter(
        mat=row.mat_id, position=row.position, removed_on=row.removed_on, pk__lt=row.pk
    )
    if before.exists():
        return asked & Q(done_on=None)
    return asked & Q(Q(done_on=None) | Q(done_on=row.removed_on), Q(new_segment=None) | Q(new_segment=fitting.segment))


def _again(fitting):
    """Other days on which the same cable went into the same place."""
    again = fitting.segment.fittings.filter(mat=fitting.mat, position=fitting.position).exclude(pk=fitting.pk)
    return again.values("fitted_on")


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


def was_called(text):
    """Mats, cables and events of exactly this code that were deleted, with who deleted each and why."""
    return newest_first(
        deleted_rows(Mat, lambda row: f"Mat {row.number}: deleted", number__iexact=text),
        deleted_rows(CableSegment, lambda row: f"Cable {row.serial}: deleted", serial__iexact=text),
        deleted_rows(Event, lambda row: f"Event {row.code} {row.name}: deleted", code__iexact=text),
    )
