"""Reads of work orders: the list, one order with its lines, those of a mat."""

from django.shortcuts import get_object_or_404

from fleet.models import Mat

from ..models import WorkOrder


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
