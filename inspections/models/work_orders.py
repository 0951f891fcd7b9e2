"""Work orders: what was to be changed in one mat, as it was printed."""

from datetime import timedelta

from django.db import models
from django.db.models import Count, Exists, F, OuterRef, Prefetch, Q
from django.urls import reverse

from fleet.limits import DAY_AHEAD, DAY_PASSED
from fleet.models import CableSegment, Fitting, Mat
from fleet.models.fields import CodeField, CodeKeyField, LineField
from fleet.models.withdrawable import Withdrawable, WithdrawableQuerySet
from fleet.validators import REASON_LENGTH

from ..choices import OrderState

# as printed: later its numbers are those of another month
VALID_DAYS = 30


class WorkOrderQuerySet(WithdrawableQuerySet):
    def with_register(self):
        """What a list of orders names beside the number."""
        return self.with_counts().select_related("mat__depot", "recorded_by", "renewed_as")

    def with_counts(self):
        """`cables` counts the lines, `answered` those done or left; without the sheet, which is long."""
        answered = Count("lines", filter=~Q(lines__done_on=None) | ~Q(lines__left_reason=""))
        return self.defer("sheet").annotate(cables=Count("lines"), answered=answered)

    def with_sheet(self):
        """What the sheets of these orders name; as many queries for one as for many."""
        # joined, since SQLite refuses to look up more than a thousand cables by their keys
        lines = WorkOrderLine.objects.select_related("segment", "new_segment")
        orders = self.select_related("mat__design", "mat__depot", "recorded_by", "renewed_as", "load")
        return orders.prefetch_related(Prefetch("lines", lines))

    def in_force(self, on):
        """To be worked by on that day: not withdrawn, signed off or renewed, and not out of date."""
        return self._unsettled(on).filter(raised_on__gte=_valid_from(on))

    def asking(self, on):
        """To be seen to on that day: planned for it or for an earlier one, or out of date with lines to do."""
        to_do = WorkOrderLine.objects.open_in(OuterRef("pk"))
        old = Q(raised_on__lt=_valid_from(on)) & Exists(to_do)
        planned = Q(raised_on__gte=_valid_from(on), planned_on__lte=on)
        orders = self._unsettled(on).filter(planned | old)
        return orders.order_by(F("planned_on").asc(nulls_last=True), "raised_on", "pk")

    def _unsettled(self, on):
        return self.in_use(on).filter(signed_on=None, renewed_as=None)


def _valid_from(on):
    """Orders raised before that day are out of date."""
    return on - timedelta(days=VALID_DAYS)


class WorkOrder(Withdrawable):
    """The printed sheet is kept as data: parts, tools, steps and cautions do not change afterwards."""

    number = CodeField("work order", unique=True)
    number_key = CodeKeyField("number")
    mat = models.ForeignKey(Mat, models.PROTECT, related_name="work_orders")
    raised_on = models.DateField()
    # who is to do it, and when
    given_to = LineField(max_length=100, blank=True)
    planned_on = models.DateField(null=True, blank=True)
    sheet = models.JSONField(default=dict)
    # the day on which every line was answered and somebody put their name to it
    signed_on = models.DateField(null=True, blank=True)
    signed_by = LineField(max_length=100, blank=True)
    renewed_as = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="renews")

    limits = {
        "raised_on": DAY_PASSED,
        "planned_on": DAY_AHEAD,
        "signed_on": DAY_PASSED,
        "withdrawn_on": DAY_PASSED,
    }
    objects = WorkOrderQuerySet.as_manager()

    class Meta:
        ordering = ["-raised_on", "-number"]
        constraints = [
            models.CheckConstraint(
                condition=Q(signed_on=None) | Q(withdrawn_on=None, renewed_as=None), name="a_signed_order_stays_signed"
            )
        ]

    def __str__(self):
        return self.number

    def get_absolute_url(self):
        return reverse("inspections:work-order-detail", args=[self.number])

    @property
    def valid_until(self):
        """The last day on which the order may be worked by."""
        return self.raised_on + timedelta(days=VALID_DAYS)

    def state_on(self, on):
        """The OrderState as of that day."""
        if self.withdrawn_on is not None and self.withdrawn_on <= on:
            return OrderState.WITHDRAWN
        if self.signed_on is not None and self.signed_on <= on:
            return OrderState.SIGNED
        if self.renewed_as_id is not None:
            return OrderState.RENEWED
        if self.valid_until < on:
            return OrderState.OUT_OF_DATE
        return OrderState.BEGUN if self.count_answered() else OrderState.OPEN

    def count_to_do(self):
        return WorkOrderLine.objects.open_in([self]).count()

    def count_answered(self):
        """Lines done or left; without a query where the order comes from `with_register` or has its lines at hand."""
        answered = self.__dict__.get("answered")
        return sum(line.is_answered for line in self.lines.all()) if answered is None else answered


class WorkOrderLineQuerySet(models.QuerySet):
    def open_in(self, orders):
        """Lines still open on these orders."""
        return self.filter(is_open=True, work_order__in=orders)

    def overtaken(self, segment_ids):
        """Open lines of these segments that are no longer in the position the line names."""
        fitted = Fitting.objects.filter(
            segment=OuterRef("segment"), mat=OuterRef("work_order__mat"), position=OuterRef("position"), removed_on=None
        )
        return self.filter(is_open=True, segment__in=segment_ids).exclude(Exists(fitted))


class WorkOrderLine(models.Model):
    work_order = models.ForeignKey(WorkOrder, models.PROTECT, related_name="lines")
    segment = models.ForeignKey(CableSegment, models.PROTECT, related_name="work_order_lines")
    position = models.PositiveSmallIntegerField()
    # False once the line is answered, or its order withdrawn, out of date or renewed: a segment stands on one open
    # order at a time
    is_open = models.BooleanField(default=True)
    # inspections.assessment.reasons.Reason as JSON, the deciding one first
    reasons = models.JSONField(default=list)
    # answered: changed on a day, the new segment in its place; or left, with the reason
    done_on = models.DateField(null=True, blank=True)
    new_segment = models.ForeignKey(
        CableSegment, models.PROTECT, null=True, blank=True, related_name="work_order_lines_in"
    )
    left_reason = LineField(max_length=REASON_LENGTH, blank=True)
    answered_by = LineField(max_length=100, blank=True)

    limits = {"done_on": DAY_PASSED}
    objects = WorkOrderLineQuerySet.as_manager()

    class Meta:
        ordering = ["work_order", "position"]
        constraints = [
            models.UniqueConstraint(
                fields=["segment"], condition=Q(is_open=True), name="segment_on_one_open_work_order"
            ),
            models.UniqueConstraint(fields=["work_order", "position"], name="a_position_once_on_a_work_order"),
            models.CheckConstraint(
                condition=Q(done_on__isnull=True) | Q(left_reason=""), name="a_line_is_done_or_left_not_both"
            ),
            models.CheckConstraint(
                condition=Q(new_segment__isnull=True) | Q(done_on__isnull=False), name="a_new_cable_has_its_day"
            ),
        ]

    def __str__(self):
        return f"{self.work_order} position {self.position}"

    @property
    def is_answered(self):
        return self.done_on is not None or bool(self.left_reason)
