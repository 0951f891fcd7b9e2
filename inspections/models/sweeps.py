"""Sweep files of analysers that are kept, each of one cable and one day."""

from django.core.validators import MinValueValidator
from django.db import models
from django.urls import reverse

from fleet.figures import short_day
from fleet.limits import DAY_PASSED
from fleet.models import CableSegment
from fleet.models.fields import LineField
from fleet.models.trail import Recorded

from ..limits import FREQUENCY, READING_LOSS
from ..numeric.words import Method
from .measurements import Measurement, plain_choices

FILE_NAME_LENGTH = 120


class Sweep(Recorded):
    """One file, which lies unchanged under its hash (`sweep_files`), and what was read from it.

    What a curve shows is read from the file anew; here stands what lists need and what became the reading.
    """

    segment = models.ForeignKey(CableSegment, models.PROTECT, related_name="sweeps")
    measured_on = models.DateField()
    file_name = LineField(max_length=FILE_NAME_LENGTH)
    sha256 = models.CharField(max_length=64, editable=False)
    size_bytes = models.PositiveIntegerField("size in bytes", editable=False)
    # as the reader names it: Touchstone 1, Touchstone 2, a table
    kind = models.CharField(max_length=20, editable=False)
    method = models.CharField("how it was connected", max_length=20, choices=plain_choices(Method))
    points = models.PositiveIntegerField(editable=False)
    from_mhz = models.FloatField("lowest frequency in MHz", editable=False, validators=[MinValueValidator(0)])
    to_mhz = models.FloatField("highest frequency in MHz", editable=False, validators=[MinValueValidator(0)])
    # loss of the cable; none: the sweep does not reach the band, or the cable was on its element
    loss_db = models.FloatField("loss in dB", null=True, blank=True)
    at_mhz = models.FloatField("read at, in MHz", null=True, blank=True)
    averaged_from_mhz = models.FloatField("mean from, in MHz", null=True, blank=True)
    averaged_to_mhz = models.FloatField("mean to, in MHz", null=True, blank=True)
    # sentences of the reader, as they were said
    warnings = models.JSONField(default=list, blank=True)
    # the sweep goes only after its reading, and a reading with a sweep is made void and not deleted
    reading = models.OneToOneField(Measurement, models.PROTECT, null=True, blank=True, related_name="sweep")

    limits = {"measured_on": DAY_PASSED, "loss_db": READING_LOSS, "at_mhz": FREQUENCY}

    class Meta:
        ordering = ["-measured_on", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["sha256", "segment", "measured_on"], name="a_sweep_file_once_a_cable_a_day")
        ]
        indexes = [models.Index(fields=["sha256"], name="sweeps_of_a_file")]

    def __str__(self):
        return f"Sweep of {self.segment} on {short_day(self.measured_on)}"

    def get_absolute_url(self):
        return reverse("inspections:sweep", args=[self.pk])
