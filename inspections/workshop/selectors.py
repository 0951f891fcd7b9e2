"""Reads of work orders: the list, one order with its lines, those of a mat."""

from dataclasses import dataclass

from django.db.models import Q
from django.shortcuts import get_object_or_404

from fleet.models import DesignPosition, Fault, Fitting, Mat

from ..choices import OrderState, Taken
from ..models import Measurement, WorkOrder

# what a list of orders may be narrowed to, beside *out of date* and *signed off*
TO_DO, CLOSED = "to do", "renewed or withdrawn"


@dataclass(frozen=True)
class Told:
    """What is kept of a cable that went in by a line: its fitting, and its first reading there; None: none is kept."""

    fitting: Fitting | None = None
    reading: Measurement | None = None


def work_orders(on, *, state="", depot=None):
    rows = WorkOrder.objects.with_register()
    if depot:
        rows = rows.filter(mat__depot=depot)
    return rows.filter(_of_state(state, on)) if state else rows


def _of_state(state, on):
    in_force = Q(pk__in=WorkOrder.objects.in_force(on).values("pk"))
    closed = Q(withdrawn_on__isnull=False) | Q(renewed_as__isnull=False)
    signed = Q(signed_on__isnull=False)
    return {TO_DO: in_force, OrderState.SIGNED: signed, CLOSED: closed}.get(state, ~(in_force | closed | signed))


def open_faults(mats, on):
    """Open faults of these mats, the oldest of each first."""
    faults = Fault.objects.open_on(on).filter(mat__in=mats).select_related("mat")
    return faults.order_by("mat__number", "reported_on", "number")


def empty_positions(mats, on):
    """Positions of these mats that hold no cable, with `mat_number`: no order can take one out there."""
    return DesignPosition.objects.empty(on).filter(mat__in=[mat.pk for mat in mats])


def get_work_order_or_404(number):
    return get_object_or_404(WorkOrder.objects.with_sheet(), number=number)


def mat_of_number(number):
    """The mat of that number, written exactly so; None where there is none."""
    return Mat.objects.filter(number=number).first()


def work_orders_of_mat(mat):
    """All orders of a mat, newest first, whatever became of them."""
    return WorkOrder.objects.with_register().filter(mat=mat)


def told_of(lines):
    """{line's key: Told} of lines of any number of orders; as many queries for one as for many."""
    new = [line.new_segment_id for line in lines if line.new_segment_id]
    fittings = {
        (row.segment_id, row.mat_id, row.position, row.fitted_on): row
        for row in Fitting.objects.filter(segment__in=new)
    }
    readings = Measurement.objects.filter(segment__in=new, taken=Taken.AT_FITTING, voided_on=None).order_by("-repeat")
    first = {(row.segment_id, row.measured_on): row for row in readings}
    return {
        line.pk: Told(
            fittings.get((line.new_segment_id, line.work_order.mat_id, line.position, line.done_on)),
            first.get((line.new_segment_id, line.done_on)),
        )
        for line in lines
    }
