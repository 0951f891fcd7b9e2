"""Reads of work orders: the list, one order with its lines, those of a mat."""

from dataclasses import dataclass

from django.shortcuts import get_object_or_404

from fleet.models import Fitting, Mat

from ..choices import Taken
from ..models import Measurement, WorkOrder


@dataclass(frozen=True)
class Told:
    """What is kept of a cable that went in by a line: its fitting, and its first reading there; None: none is kept."""

    fitting: Fitting | None = None
    reading: Measurement | None = None


def work_orders():
    return WorkOrder.objects.with_register()


def get_work_order_or_404(number):
    orders = WorkOrder.objects.select_related("mat__design", "mat__depot", "recorded_by", "renewed_as", "load")
    return get_object_or_404(orders.prefetch_related("lines__segment", "lines__new_segment"), number=number)


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
