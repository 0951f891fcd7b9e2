"""Limits by length that a keeper put into the policy in one act, which can be taken back as one."""

from django.db import models
from django.urls import reverse

from fleet.figures import short_day
from fleet.limits import DAY_PASSED
from fleet.models.fields import LineField
from fleet.models.trail import Recorded
from fleet.validators import REASON_LENGTH

from ..numeric.words import Clock


class UsedLimits(Recorded):
    """`lines`: a position each, {"design": key, "code": …, "position": …, "length_m": …, "was": its own value before or
    null, "before": what held there, "now": …, "row": key of its PolicyValue, "version": that the act gave it}. Values
    in years or events. `due_before`, `due_after`: cables due right before the act and right after."""

    used_on = models.DateField()
    wear_clock = models.CharField(max_length=10, choices=[(str(each), str(each)) for each in Clock])
    lines = models.JSONField()
    due_before = models.PositiveIntegerField()
    due_after = models.PositiveIntegerField()
    reason = LineField("why", max_length=REASON_LENGTH, blank=True)
    taken_back_on = models.DateField(null=True, blank=True)

    limits = {"used_on": DAY_PASSED, "taken_back_on": DAY_PASSED}

    class Meta:
        ordering = ["-pk"]

    def __str__(self):
        return f"limits by length of {short_day(self.used_on)}"

    def get_absolute_url(self):
        return reverse("inspections:limits-used", args=[self.pk])
