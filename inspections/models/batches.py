"""Batches: loose cables of one kind, judged one after the other before they go on the shelf."""

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from fleet.figures import two_places
from fleet.limits import CABLE_LENGTH, DAY_PASSED
from fleet.models import CableSegment, CableType, Depot
from fleet.models.codes import Coded, CodedQuerySet
from fleet.models.fields import CodeField, CodeKeyField, LineField
from fleet.models.trail import Recorded
from fleet.validators import REASON_LENGTH, check_positive

from ..choices import BatchOf
from ..limits import FREQUENCY, READING_LOSS, TEMPERATURE
from ..numeric.words import Method, Verdict
from ..validators import TypedLoss, check_frequency_mhz, check_loss_db, check_temperature_c
from .measurements import Instrument, plain_choices

# one answer looks at all cables of its batch
MOST_CABLES = 500


class BatchQuerySet(CodedQuerySet):
    def with_register(self):
        """What a page names beside the number."""
        return self.select_related("cable_type", "depot", "instrument", "recorded_by")


class Batch(Coded):
    """What holds for all its cables is said once."""

    number = CodeField("batch", unique=True)
    number_key = CodeKeyField("number")
    holds = models.CharField("what it holds", max_length=10, choices=BatchOf.choices, default=BatchOf.NEW)
    cable_type = models.ForeignKey(CableType, models.PROTECT, related_name="batches")
    length_m = models.FloatField("length in m", validators=[check_positive])
    lot = LineField(max_length=60, blank=True)
    depot = models.ForeignKey(Depot, models.PROTECT, null=True, blank=True, related_name="batches")
    measured_on = models.DateField()
    instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="batches")
    # empty: not recorded, taken as through
    method = models.CharField(max_length=20, blank=True, choices=plain_choices(Method))
    # empty: taken at the pool's reference frequency
    frequency_mhz = models.FloatField("frequency in MHz", null=True, blank=True, validators=[check_frequency_mhz])
    temperature_c = models.FloatField("temperature in °C", null=True, blank=True, validators=[check_temperature_c])
    measured_by = LineField(max_length=100, blank=True)
    # none: values can still come
    ended_on = models.DateField(null=True, blank=True)
    # of an ended one: by what it was judged, and the answer to each cable, which no later policy changes
    judged = models.JSONField(default=dict, blank=True)

    limits = {
        "length_m": CABLE_LENGTH,
        "measured_on": DAY_PASSED,
        "frequency_mhz": FREQUENCY,
        "temperature_c": TEMPERATURE,
        "ended_on": DAY_PASSED,
    }
    objects = BatchQuerySet.as_manager()

    class Meta:
        ordering = ["-measured_on", "-pk"]
        verbose_name_plural = "batches"
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True) | Q(ended_on__gte=F("measured_on")), name="batch_ends_after_measured"
            ),
        ]

    def __str__(self):
        return self.number

    def get_absolute_url(self):
        return reverse("inspections:batch", args=[self.number])

    @property
    def is_new(self):
        return self.holds == BatchOf.NEW


class BatchValueQuerySet(models.QuerySet):
    def standing(self):
        """Not struck."""
        return self.filter(struck_on=None)


class BatchValue(Recorded):
    """One value as typed; what it means is worked out where it is shown. Read again: one more, which then counts."""

    batch = models.ForeignKey(Batch, models.PROTECT, related_name="values")
    cable = models.PositiveSmallIntegerField("number in the batch")
    attempt = models.PositiveSmallIntegerField("reading of that cable", default=1)
    # as the instrument showed it
    loss_db = models.FloatField("loss in dB", null=True, blank=True, validators=[check_loss_db])
    no_signal = models.BooleanField(default=False)
    go_no_go = models.CharField(max_length=10, blank=True, choices=plain_choices([Verdict.WITHIN, Verdict.OVER]))
    # as typed; empty: the cable carries none, or it stands at its first reading
    serial = CodeField(blank=True)
    # what it became on the shelf
    segment = models.ForeignKey(CableSegment, models.PROTECT, null=True, blank=True, related_name="batch_values")
    struck_on = models.DateField(null=True, blank=True)
    strike_reason = LineField(max_length=REASON_LENGTH, blank=True)

    limits = {"loss_db": READING_LOSS, "struck_on": DAY_PASSED}
    objects = BatchValueQuerySet.as_manager()

    class Meta:
        ordering = ["batch", "cable", "attempt"]
        constraints = [
            models.UniqueConstraint(fields=["batch", "cable", "attempt"], name="one_value_of_an_attempt"),
            models.CheckConstraint(
                condition=Q(loss_db__isnull=True, no_signal=True, go_no_go="")
                | Q(loss_db__isnull=False, no_signal=False, go_no_go="")
                | (Q(loss_db__isnull=True, no_signal=False) & ~Q(go_no_go="")),
                name="a_batch_value_is_one_of_three",
            ),
            models.CheckConstraint(
                condition=Q(loss_db__isnull=True) | Q(loss_db__gte=0), name="batch_loss_not_negative"
            ),
        ]

    def __str__(self):
        return f"{self.batch} cable {self.cable}: {self.said}"

    @property
    def said(self):
        return self.go_no_go or ("no signal" if self.no_signal else f"{two_places(self.loss_db)} dB")

    @property
    def loss(self):
        return TypedLoss.of_reading(self)
