"""Work orders: what was to be changed in one mat, as it was printed."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.models import CableSegment, Mat
from fleet.models.fields import CodeField
from fleet.models.trail import Recorded, Withdrawable

VOID_AFTER_DAYS = 30


class WorkOrder(Recorded, Withdrawable):
    """The printed sheet is kept as data: parts, tools, steps and cautions do not change afterwards."""

    number = CodeField("work order", unique=True)
    mat = models.ForeignKey(Mat, models.PROTECT, related_name="work_orders")
    raised_on = models.DateField()
    sheet = models.JSONField(default=dict)

    class Meta:
        ordering = ["-raised_on", "-number"]

    def __str__(self):
        return self.number

    def get_absolute_url(self):
        return reverse("inspections:work-order-detail", args=[self.number])


class WorkOrderLine(models.Model):
    work_order = models.ForeignKey(WorkOrder, models.PROTECT, related_name="lines")
    segment = models.ForeignKey(CableSegment, models.PROTECT, related_name="work_order_lines")
    position = models.PositiveSmallIntegerField()
    # False once the order is withdrawn, void or replaced: a segment stands on one open order at a time
    is_open = models.BooleanField(default=True)
    reasons = models.JSONField(default=dict)

    class Meta:
        ordering = ["work_order", "position"]
        constraints = [
            models.UniqueConstraint(fields=["segment"], condition=Q(is_open=True), name="segment_on_one_open_work_order"),
            models.UniqueConstraint(fields=["work_order", "position"], name="a_position_once_on_a_work_order"),
        ]

    def __str__(self):
        return f"{self.work_order} position {self.position}"
