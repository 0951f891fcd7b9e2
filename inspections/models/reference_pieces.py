"""Reference pieces: kept cables or attenuators of an agreed loss, read first on a bench day."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.figures import short_day, two_places
from fleet.limits import DAY_AHEAD, DAY_PASSED, NUMBER_OF_DAY
from fleet.models import Depot
from fleet.models.fields import CodeField, CodeKeyField, LineField
from fleet.models.trail import Recorded
from fleet.models.withdrawable import Withdrawable
from fleet.validators import REASON_LENGTH, check_positive

from ..limits import READING_LOSS, UNCERTAINTY
from ..validators import check_loss_db
from .measurements import Instrument


class ReferencePiece(Withdrawable):
    name = CodeField("reference piece", unique=True)
    name_key = CodeKeyField("name")
    # none: of no one depot
    depot = models.ForeignKey(Depot, models.PROTECT, null=True, blank=True, related_name="reference_pieces")

    limits = {"withdrawn_on": DAY_AHEAD}

    class Meta:
        ordering = ["name"]

    def get_absolute_url(self):
        return reverse("inspections:piece-detail", args=[self.name])

    def __str__(self):
        return self.name


class AgreedValue(Recorded):
    """What a piece loses, as agreed on a day and good until the next one: renewed by a new row."""

    piece = models.ForeignKey(ReferencePiece, models.CASCADE, related_name="values")
    agreed_on = models.DateField()
    # both none: not agreed yet
    agreed_loss_db = models.FloatField("agreed loss in dB", null=True, blank=True, validators=[check_loss_db])
    uncertainty_db = models.FloatField("standard uncertainty in dB", null=True, blank=True, validators=[check_positive])
    # from what it was agreed
    basis = LineField(max_length=REASON_LENGTH, blank=True)

    limits = {"agreed_on": DAY_PASSED, "agreed_loss_db": READING_LOSS, "uncertainty_db": UNCERTAINTY}

    class Meta:
        ordering = ["piece__name", "agreed_on"]
        constraints = [
            models.UniqueConstraint(fields=["piece", "agreed_on"], name="one_agreed_value_a_day"),
            models.CheckConstraint(
                condition=Q(agreed_loss_db__isnull=True, uncertainty_db__isnull=True)
                | Q(agreed_loss_db__isnull=False, uncertainty_db__isnull=False),
                name="agreed_with_its_uncertainty",
            ),
        ]

    def __str__(self):
        value = "not agreed" if self.agreed_loss_db is None else f"{two_places(self.agreed_loss_db)} dB"
        return f"{self.piece} from {short_day(self.agreed_on)}: {value}"


class ReferenceReading(Recorded):
    """A piece as read on a bench day, at the frequency that the bench works at."""

    piece = models.ForeignKey(ReferencePiece, models.PROTECT, related_name="readings")
    measured_on = models.DateField()
    repeat = models.PositiveSmallIntegerField("repeat of that day", default=1)
    loss_db = models.FloatField("loss in dB", validators=[check_loss_db])
    instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="reference_readings")

    limits = {"measured_on": DAY_PASSED, "repeat": NUMBER_OF_DAY, "loss_db": READING_LOSS}

    class Meta:
        ordering = ["piece__name", "-measured_on", "repeat"]
        constraints = [
            models.UniqueConstraint(fields=["piece", "measured_on", "repeat"], name="one_piece_reading_of_a_repeat"),
        ]
        indexes = [models.Index(fields=["measured_on"], name="piece_readings_of_a_day")]

    def __str__(self):
        return f"{self.piece} on {short_day(self.measured_on)}: {two_places(self.loss_db)} dB"
