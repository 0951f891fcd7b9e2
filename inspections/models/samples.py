"""Samples of the pool: mats drawn at random, to be measured whole, with all that is needed to draw them again."""

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from fleet.limits import DAY_PASSED
from fleet.models import Depot, Mat
from fleet.models.fields import CodeField, CodeKeyField, LineField
from fleet.models.withdrawable import Withdrawable, WithdrawableQuerySet

from ..choices import SizeRule
from ..limits import CONFIDENCE, MATS_AGAIN, SAMPLE_SIZE, SEED, SHARE


class SampleQuerySet(WithdrawableQuerySet):
    def with_register(self):
        return self.select_related("depot", "recorded_by")

    def of_frame(self, depot):
        """Not withdrawn, drawn from the mats of that depot (none: of the whole pool); the newest first."""
        return self.filter(withdrawn_on=None, depot=depot).order_by("-drawn_on", "-pk")

    def running(self):
        return self.filter(withdrawn_on=None, ended_on=None)


class Sample(Withdrawable):
    """`frame`: what was drawn from, in its order, {"mats": [[mat number, Stratum], …], "before": [mat numbers of the
    last sample]}; with size, seed and `same_asked` the draw can be repeated from it alone."""

    number = CodeField("sample", unique=True)
    number_key = CodeKeyField("number")
    drawn_on = models.DateField()
    # none: of the whole pool
    depot = models.ForeignKey(Depot, models.PROTECT, null=True, blank=True, related_name="samples")
    # only mats that were at home on that day
    home_only = models.BooleanField(default=False)
    rule = models.CharField(max_length=20, choices=SizeRule.choices)
    # what is to be shown: fewer than this share over, with this confidence; none where the size was typed
    share = models.FloatField(null=True, blank=True)
    confidence = models.FloatField(null=True, blank=True)
    size = models.PositiveIntegerField()
    # so many of the last sample were to come again
    same_asked = models.PositiveIntegerField(default=0)
    seed = models.PositiveBigIntegerField()
    frame = models.JSONField()
    note = LineField(max_length=500, blank=True)
    # nothing that is read after that day counts
    ended_on = models.DateField(null=True, blank=True)

    limits = {
        "drawn_on": DAY_PASSED,
        "share": SHARE,
        "confidence": CONFIDENCE,
        "size": SAMPLE_SIZE,
        "same_asked": MATS_AGAIN,
        "seed": SEED,
        "ended_on": DAY_PASSED,
        "withdrawn_on": DAY_PASSED,
    }
    objects = SampleQuerySet.as_manager()

    class Meta:
        ordering = ["-drawn_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True) | Q(ended_on__gte=F("drawn_on")),
                name="sample_ends_after_it_is_drawn",
            ),
        ]

    def __str__(self):
        return self.number

    def get_absolute_url(self):
        return reverse("inspections:sample-detail", args=[self.number])

    @property
    def frame_size(self):
        return len(self.frame["mats"])

    @property
    def is_running(self):
        """Readings still count, and mats are still to be measured."""
        return self.withdrawn_on is None and self.ended_on is None

    def last_day(self, on):
        """The last day of which readings count, as of `on`."""
        return min(self.ended_on or on, on)


class SampledMatQuerySet(models.QuerySet):
    def of_running(self, mat, on):
        """Of samples that run on that day, with them; the newest first."""
        running = self.filter(mat=mat, sample__withdrawn_on=None, sample__ended_on=None, sample__drawn_on__lte=on)
        return running.select_related("sample").order_by("-sample__drawn_on", "-sample")


class SampledMat(models.Model):
    """One mat of a sample. What is known of its cables at the draw, and again at the end, is kept as
    `{"segment": key, "serial": …, "position": …, "length_m": …, "status": Status or "", "cause": Cause or "",
    "due_on": ISO day or null}`: by then others may be in their places."""

    sample = models.ForeignKey(Sample, models.PROTECT, related_name="mats")
    mat = models.ForeignKey(Mat, models.PROTECT, related_name="sampled")
    # row of the sample's frame
    frame_row = models.PositiveIntegerField()
    stratum = models.CharField(max_length=20)
    # it was in the last sample of that frame
    again = models.BooleanField(default=False)
    cables = models.JSONField()
    # none while the sample runs
    cables_after = models.JSONField(null=True, blank=True)

    objects = SampledMatQuerySet.as_manager()

    class Meta:
        ordering = ["sample", "frame_row"]
        constraints = [
            models.UniqueConstraint(fields=["sample", "mat"], name="a_mat_once_in_a_sample"),
            models.UniqueConstraint(fields=["sample", "frame_row"], name="a_row_of_a_frame_once_in_a_sample"),
        ]

    def __str__(self):
        return f"{self.mat} in {self.sample}"
