"""An assessment of the whole pool that goes on while its page is looked at."""

from django.conf import settings
from django.db import models
from django.utils import timezone

from ..choices import Stage


class AssessmentRun(models.Model):
    """How far it is, for the page that shows it. Derived, so without history."""

    started_at = models.DateTimeField(default=timezone.now)
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    assessed_on = models.DateField()
    stage = models.CharField(max_length=10, choices=Stage.choices, default=Stage.WAITING)
    segments = models.PositiveIntegerField("segments to assess")
    finished_at = models.DateTimeField(null=True)
    failure_reason = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["-started_at", "-pk"]

    def __str__(self):
        return f"Assessment of {self.segments} segments: {self.stage}"
