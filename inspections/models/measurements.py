"""Instruments, and readings of a segment's loss."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, OuterRef, Q, Subquery

from fleet.figures import short_day, two_places
from fleet.limits import DAY_AHEAD, DAY_PASSED, NUMBER_OF_DAY
from fleet.models import CableSegment
from fleet.models.fields import CodeField, CodeKeyField, LineField
from fleet.models.trail import Recorded
from fleet.models.withdrawable import Withdrawable
from fleet.validators import REASON_LENGTH, check_positive

from ..choices import MeasurementReason, Taken
from ..limits import FREQUENCY, LOSS_LIMIT, READING_LOSS, TEMPERATURE, UNCERTAINTY
from ..numeric.methods import DEFAULT_UNCERTAINTY_DB, loss_of_shown_db, shown_by
from ..numeric.words import InstrumentKind, Method, Shown, Verdict
from ..validators import check_frequency_mhz, check_loss_db, check_temperature_c, instrument_faults


def plain_choices(words):
    """Words as choices, as plain texts: a migration would otherwise name the enumeration's module."""
    return [(word.value, word.value) for word in words]


class Instrument(Withdrawable):
    name = CodeField("instrument", unique=True)
    name_key = CodeKeyField("name")
    # empty: nobody said
    kind = models.CharField(max_length=20, blank=True, choices=plain_choices(InstrumentKind))
    # none: the default of its kind
    standard_uncertainty_db = models.FloatField(
        "standard uncertainty in dB", null=True, blank=True, validators=[check_positive]
    )
    # of two readings of one cable that was connected anew; none: not known
    repeatability_db = models.FloatField("repeatability in dB", null=True, blank=True, validators=[check_positive])
    # of a go/no-go tester: the loss from which on it says *over*
    set_limit_db = models.FloatField("set limit in dB", null=True, blank=True, validators=[check_positive])
    # a reading counts only on a day on which its leads were taken out by a through reading
    leads_taken_out = models.BooleanField("leads are taken out by a through reading", default=False)

    limits = {
        "standard_uncertainty_db": UNCERTAINTY,
        "repeatability_db": UNCERTAINTY,
        "set_limit_db": LOSS_LIMIT,
        "withdrawn_on": DAY_AHEAD,
    }

    class Meta:
        ordering = ["name"]

    def __str__(self):
        return self.name

    def clean(self):
        super().clean()
        values = (self.kind, self.standard_uncertainty_db, self.set_limit_db, self.leads_taken_out)
        if faults := {fault.field: fault.sentence for fault in instrument_faults(*values)}:
            raise ValidationError(faults)

    @property
    def uncertainty_db(self):
        """Standard uncertainty of its readings: its own, else the default of its kind; None: not known."""
        if self.standard_uncertainty_db is not None:
            return self.standard_uncertainty_db
        return DEFAULT_UNCERTAINTY_DB.get(self.kind)

    @property
    def is_go_no_go(self):
        return self.kind == InstrumentKind.GO_NO_GO

    @property
    def is_made_for_reflection(self):
        """One port, with an uncertainty of its own that holds for what it reads by reflection."""
        return self.kind == InstrumentKind.ONE_PORT and self.standard_uncertainty_db is not None


class MeasurementQuerySet(models.QuerySet):
    def valid_on(self, on):
        """Measured by then and not void by then: a reading is void from `voided_on` on."""
        return self.filter(measured_on__lte=on).filter(Q(voided_on=None) | Q(voided_on__gt=on))

    def changed_since(self, moment):
        """Entered, corrected, voided or marked since; one entered and voided again says nothing new."""
        entered = Q(recorded_at__gt=moment, voided_on=None)
        changes = self.model.history.filter(history_date__gt=moment)
        return self.filter(entered | Q(recorded_at__lte=moment, pk__in=changes.values("id")))

    def with_register(self):
        """What every list of readings names beside the loss; `changed_by`: who made it void or doubtful."""
        changes = self.model.history.model.objects.filter(id=OuterRef("pk")).order_by("-history_id")
        return self.select_related("segment", "instrument", "recorded_by", "sweep").annotate(
            changed_by=Subquery(changes.values("history_user__username")[:1])
        )


class Measurement(Recorded):
    segment = models.ForeignKey(CableSegment, models.PROTECT, related_name="measurements")
    measured_on = models.DateField()
    repeat = models.PositiveSmallIntegerField("repeat of that day", default=1)
    # as the instrument showed it: of a reading by reflection the return loss, twice the loss of the cable
    loss_db = models.FloatField("loss in dB", null=True, blank=True, validators=[check_loss_db])
    no_signal = models.BooleanField(default=False)
    # what a go/no-go tester said, in place of a number
    go_no_go = models.CharField(max_length=10, blank=True, choices=plain_choices([Verdict.WITHIN, Verdict.OVER]))
    # empty: not recorded, taken as through
    method = models.CharField(max_length=20, blank=True, choices=plain_choices(Method))
    # empty: taken at the pool's reference frequency
    frequency_mhz = models.FloatField("frequency in MHz", null=True, blank=True, validators=[check_frequency_mhz])
    temperature_c = models.FloatField("temperature in °C", null=True, blank=True, validators=[check_temperature_c])
    instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="measurements")
    measured_by = LineField(max_length=100, blank=True)
    taken = models.CharField(max_length=20, choices=Taken.choices, default=Taken.AS_FOUND)
    reason = models.CharField(
        "why", max_length=10, choices=MeasurementReason.choices, default=MeasurementReason.ROUTINE
    )
    note = LineField(max_length=500, blank=True)
    doubt_reason = LineField(max_length=REASON_LENGTH, blank=True)
    voided_on = models.DateField(null=True, blank=True)
    void_reason = LineField(max_length=REASON_LENGTH, blank=True)

    limits = {
        "measured_on": DAY_PASSED,
        "repeat": NUMBER_OF_DAY,
        "loss_db": READING_LOSS,
        "frequency_mhz": FREQUENCY,
        "temperature_c": TEMPERATURE,
        "voided_on": DAY_AHEAD,
    }
    objects = MeasurementQuerySet.as_manager()

    class Meta:
        ordering = ["segment__serial", "-measured_on", "repeat"]
        constraints = [
            models.UniqueConstraint(fields=["segment", "measured_on", "repeat"], name="one_reading_of_a_repeat_a_day"),
            models.CheckConstraint(
                condition=Q(loss_db__isnull=True, no_signal=True, go_no_go="")
                | Q(loss_db__isnull=False, no_signal=False, go_no_go="")
                | (Q(loss_db__isnull=True, no_signal=False) & ~Q(go_no_go="")),
                name="a_loss_no_signal_or_go_no_go",
            ),
            models.CheckConstraint(condition=Q(loss_db__isnull=True) | Q(loss_db__gte=0), name="loss_not_negative"),
            models.CheckConstraint(
                condition=Q(voided_on__isnull=True) | Q(voided_on__gte=F("measured_on")),
                name="voided_after_measured",
            ),
        ]
        indexes = [
            models.Index(fields=["segment", "-measured_on"], name="newest_reading"),
            models.Index(fields=["recorded_at"], name="reading_recorded"),
            models.Index(fields=["measured_on"], name="readings_of_a_day"),
        ]

    @property
    def shown(self):
        """What it shows of its cable, a Shown."""
        return shown_by(self.method, self.go_no_go)

    @property
    def cable_loss_db(self):
        """Loss of the cable at the frequency and temperature of the reading: half of a return loss; None without."""
        if self.loss_db is None or self.shown == Shown.NO_LOSS:
            return None
        return float(loss_of_shown_db(self.loss_db, self.shown))

    def __str__(self):
        value = self.go_no_go or ("no signal" if self.no_signal else f"{two_places(self.loss_db)} dB")
        return f"{self.segment} on {short_day(self.measured_on)}: {value}"
