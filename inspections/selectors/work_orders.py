"""Reads of work orders: the list, one order with its lines, what a mat or a segment stands on."""

from django.db.models import OuterRef, Subquery
from django.shortcuts import get_object_or_404

from fleet.models import Mat

from ..models import WorkOrder, WorkOrderLine


def work_orders():
    return WorkOrder.objects.with_register()


def get_work_order_or_404(number):
    orders = WorkOrder.objects.select_related("mat__design", "mat__depot", "recorded_by")
    return get_object_or_404(orders.prefetch_related("lines__segment"), number=number)


def mat_of_number(number):
    """The mat, or None."""
    return Mat.objects.filter(number=number).first()


def work_orders_of_mat(mat):
    """All orders of a mat, newest first, whatever became of them."""
    return WorkOrder.objects.with_register().filter(mat=mat)


def with_open_order(assessments, on):
    """Adds `open_order`: the number of the order in force that a segment stands on; None without one."""
    lines = WorkOrderLine.objects.filter(segment=OuterRef("segment"), is_open=True)
    in_force = lines.filter(work_order__in=WorkOrder.objects.in_force(on))
    return assessments.annotate(open_order=Subquery(in_force.values("work_order__number")[:1]))
