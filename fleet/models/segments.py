"""What cables are cut from, the cable segments, and where each was fitted from when to when."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from ..choices import EndTest, FittedBasis, LengthBasis, SerialBasis
from ..figures import short_day
from ..limits import (
    AS_NEW_LOSS,
    ATTENUATION,
    BEND_RADIUS,
    CABLE_LENGTH,
    DAY_AHEAD,
    DAY_PASSED,
    EVENTS_BEFORE,
    SPANNER,
    TORQUE,
    VELOCITY_FACTOR,
)
from ..validators import CONNECTOR_LENGTH, REASON_LENGTH, check_positive
from .fields import CodeField, CodeKeyField, LineField
from .trail import Recorded
from .withdrawable import Withdrawable, WithdrawableQuerySet, in_use

# lengths are typed with two or three decimals; two that differ by less are the same
SAME_LENGTH_M = 0.0005
# the type of cables of which nobody asked what they are cut from
ASSUMED_CABLE = "not known, as 2.5 mm coax"


def _constant(label, **kwargs):
    return models.FloatField(label, validators=[check_positive], **kwargs)


class CableType(Withdrawable):
    name = CodeField("cable type", unique=True)
    name_key = CodeKeyField("name")
    db_per_m_400mhz = _constant("dB per m at 400 MHz")
    db_per_m_1000mhz = _constant("dB per m at 1000 MHz")
    velocity_factor = _constant("velocity factor", null=True, blank=True)
    bend_radius_mm = _constant("smallest bend radius in mm", null=True, blank=True)
    torque_min_nm = _constant("torque from, in N·m", null=True, blank=True)
    torque_max_nm = _constant("torque to, in N·m", null=True, blank=True)
    spanner_mm = _constant("spanner in mm", null=True, blank=True)
    connector_feed = LineField("connector at the feed end", max_length=CONNECTOR_LENGTH, blank=True)
    connector_element = LineField("connector at the element", max_length=CONNECTOR_LENGTH, blank=True)

    limits = {
        "db_per_m_400mhz": ATTENUATION,
        "db_per_m_1000mhz": ATTENUATION,
        "velocity_factor": VELOCITY_FACTOR,
        "bend_radius_mm": BEND_RADIUS,
        "torque_min_nm": TORQUE,
        "torque_max_nm": TORQUE,
        "spanner_mm": SPANNER,
        "withdrawn_on": DAY_AHEAD,
    }

    class Meta:
        ordering = ["name"]

    def __str__(self):
        return self.name

    @property
    def is_assumed(self):
        """Nobody said which cable it is: its constants are those of a likely one."""
        return self.name == ASSUMED_CABLE

    @property
    def connectors(self):
        """Both as one says them, the feed end first; "" where neither is known."""
        ends = [self.connector_feed, self.connector_element]
        return " – ".join(end or "not recorded" for end in ends) if any(ends) else ""

    def get_absolute_url(self):
        return reverse("fleet:cable-type-detail", args=[self.name])

    def clean(self):
        if (self.torque_min_nm is None) != (self.torque_max_nm is None):
            raise ValidationError({"torque_max_nm": "A torque window has two ends: write both, or neither."})
        if self.torque_min_nm and self.torque_min_nm > self.torque_max_nm:
            raise ValidationError({"torque_max_nm": "The window ends below its start."})


def of_length(low_m, high_m=None, segment=""):
    """The condition: the length lies between the two, or is the one that is given.

    `segment`: the path to the segment that is asked about; none: the row itself.
    """
    high_m = low_m if high_m is None else high_m
    length_m = f"{segment}__length_m" if segment else "length_m"
    return Q(**{f"{length_m}__range": (low_m - SAME_LENGTH_M, high_m + SAME_LENGTH_M)})


class CableSegmentQuerySet(WithdrawableQuerySet):
    def find(self, text):
        return self.filter(serial__icontains=text)

    def fitted_on(self, on):
        """In a position on that day."""
        return self.filter(pk__in=Fitting.objects.current(on).values("segment"))

    def on_shelf(self, on):
        """Spares: in use, and in no position on that day."""
        return self.in_use(on).exclude(pk__in=Fitting.objects.current(on).values("segment"))


class CableSegment(Withdrawable):
    serial = CodeField(unique=True)
    serial_key = CodeKeyField("serial")
    serial_basis = models.CharField(max_length=5, choices=SerialBasis.choices, default=SerialBasis.OWN)
    cable_type = models.ForeignKey(CableType, models.PROTECT, related_name="segments")
    length_m = models.FloatField("length in m", validators=[check_positive])
    length_basis = models.CharField(max_length=10, choices=LengthBasis.choices, default=LengthBasis.KNOWN)
    lot = LineField(max_length=60, blank=True)
    as_new_loss_db = models.FloatField(
        "as-new loss in dB",
        null=True,
        blank=True,
        validators=[check_positive],
        help_text="at 20 °C, reference frequency",
    )
    events_before = models.PositiveIntegerField("events before the records begin", null=True, blank=True)

    limits = {
        "length_m": CABLE_LENGTH,
        "as_new_loss_db": AS_NEW_LOSS,
        "events_before": EVENTS_BEFORE,
        "withdrawn_on": DAY_AHEAD,
    }
    objects = CableSegmentQuerySet.as_manager()

    class Meta:
        ordering = ["serial"]
        constraints = [models.CheckConstraint(condition=Q(length_m__gt=0), name="segment_length_above_zero")]

    def __str__(self):
        return self.serial

    def get_absolute_url(self):
        return reverse("fleet:segment-detail", args=[self.serial])

    @property
    def serial_is_ours(self):
        """The app gave it a running number: no serial stands on the cable."""
        return self.serial_basis == SerialBasis.GIVEN

    @property
    def length_is_estimated(self):
        """Nobody measured it."""
        return self.length_basis == LengthBasis.ESTIMATED


_SINCE = {FittedBasis.ABOUT: "about {}", FittedBasis.NOT_LATER_THAN: "{} or earlier"}


class FittingQuerySet(models.QuerySet):
    def current(self, on):
        """In place on that day: from `fitted_on` up to, not including, `removed_on`."""
        return self.filter(fitted_on__lte=on).filter(Q(removed_on=None) | Q(removed_on__gt=on))

    def in_service(self, on):
        """In place on that day, in a mat that is not withdrawn."""
        return self.current(on).filter(in_use(on, "mat"))

    def overlapping(self, fitted_on, removed_on):
        """Fittings that share a day with the span; `removed_on` None means still in place."""
        later = self.filter(Q(removed_on=None) | Q(removed_on__gt=fitted_on))
        return later if removed_on is None else later.filter(fitted_on__lt=removed_on)


class Fitting(Recorded):
    segment = models.ForeignKey(CableSegment, models.PROTECT, related_name="fittings")
    mat = models.ForeignKey("fleet.Mat", models.PROTECT, related_name="fittings")
    position = models.PositiveSmallIntegerField()
    fitted_on = models.DateField()
    fitted_basis = models.CharField(max_length=20, choices=FittedBasis.choices, default=FittedBasis.KNOWN)
    removed_on = models.DateField(null=True, blank=True)
    removal_reason = LineField(max_length=REASON_LENGTH, blank=True)
    # the fitting that ended when this one began: where this one is undone, that one stands again
    ended = models.ForeignKey("self", models.PROTECT, null=True, blank=True, editable=False, related_name="ended_by")
    # the fitting of the same segment that ended as it was moved here
    moved_from = models.ForeignKey(
        "self", models.PROTECT, null=True, blank=True, editable=False, related_name="moved_to"
    )
    torque_nm = models.FloatField("torque in N·m", null=True, blank=True, validators=[check_positive])
    end_test = models.CharField(max_length=10, choices=EndTest.choices, blank=True)
    remark = LineField(max_length=500, blank=True)

    limits = {"fitted_on": DAY_PASSED, "removed_on": DAY_PASSED, "torque_nm": TORQUE}
    objects = FittingQuerySet.as_manager()

    class Meta:
        ordering = ["mat__number", "position", "fitted_on"]
        constraints = [
            models.UniqueConstraint(fields=["segment", "fitted_on"], name="one_fitting_of_a_segment_a_day"),
            models.UniqueConstraint(fields=["segment"], condition=Q(removed_on=None), name="segment_in_one_place"),
            models.UniqueConstraint(
                fields=["mat", "position"], condition=Q(removed_on=None), name="position_holds_one_segment"
            ),
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True) | Q(removed_on__gte=F("fitted_on")), name="removed_after_fitted"
            ),
        ]

    def __str__(self):
        return f"{self.segment} in {self.mat} position {self.position} from {self.since}"

    @property
    def known_day(self):
        """The day of fitting; None where it is a guess."""
        return self.fitted_on if self.fitted_basis == FittedBasis.KNOWN else None

    @property
    def since(self):
        """The day of fitting as refusals name it, a guess as a guess."""
        return _SINCE.get(self.fitted_basis, "{}").format(short_day(self.fitted_on))

    def overlaps(self, fitted_on, removed_on):
        """What `overlapping` asks the database."""
        begins = removed_on is None or self.fitted_on < removed_on
        return begins and (self.removed_on is None or self.removed_on > fitted_on)

    def covers(self, day):
        """What `current` asks the database."""
        return self.fitted_on <= day and (self.removed_on is None or day < self.removed_on)
