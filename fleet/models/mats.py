"""Depots, the designs of mats, the mats, and what is wrong with them."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Exists, F, OuterRef, Q
from django.urls import reverse

from ..choices import CABLE_PLACES, AcquiredBasis, FaultEnd, FaultPlace, LengthBasis
from ..figures import short_day
from ..limits import (
    CABLE_LENGTH,
    DAY_AHEAD,
    DAY_PASSED,
    FOLD_DISTANCE,
    MAT_WEIGHT,
    MAT_WIDTH,
    NUMBER_OF_DAY,
    POSITION,
)
from ..validators import check_folds, check_mail_addresses, check_positive, mail_addresses
from .fields import CodeField, CodeKeyField, LineField, LinesField
from .segments import CableType, Fitting
from .trail import Recorded
from .withdrawable import Withdrawable, WithdrawableQuerySet, in_use


class Depot(Withdrawable):
    name = CodeField(unique=True)
    name_key = CodeKeyField("name")
    mail = LineField("morning mail to", max_length=500, blank=True, validators=[check_mail_addresses])

    limits = {"withdrawn_on": DAY_AHEAD}

    class Meta:
        ordering = ["name"]

    def __str__(self):
        return self.name

    @property
    def addresses(self):
        """To whom its morning mail goes."""
        return mail_addresses(self.mail)


class MatDesign(Withdrawable):
    code = CodeField("design", unique=True)
    code_key = CodeKeyField("code")
    width_m = models.FloatField("width in m", null=True, blank=True, validators=[check_positive])
    folds_m = models.JSONField(
        "fold lines in m", default=list, blank=True, validators=[check_folds], help_text="distances from the feed end"
    )
    weight_kg = models.FloatField("weight in kg", null=True, blank=True, validators=[check_positive])
    steps = LinesField("steps of work", blank=True, help_text="One step a line. Empty: the usual steps.")

    limits = {
        "width_m": MAT_WIDTH,
        "folds_m": FOLD_DISTANCE,
        "weight_kg": MAT_WEIGHT,
        "withdrawn_on": DAY_AHEAD,
    }

    class Meta:
        ordering = ["code"]

    def __str__(self):
        return self.code

    def get_absolute_url(self):
        return reverse("fleet:design-detail", args=[self.code])

    def clean(self):
        if self.width_m and any(fold >= self.width_m for fold in self.folds_m or []):
            raise ValidationError({"folds_m": f"A fold lies inside the width of {self.width_m:g} m."})


class DesignPositionQuerySet(models.QuerySet):
    def empty(self, on):
        """Positions of mats in use that hold no cable on that day, once for each mat; adds `mat` and `mat_number`."""
        of_mats = self.filter(in_use(on, "design__mats"), design__mats__isnull=False)
        of_mats = of_mats.annotate(mat=F("design__mats"), mat_number=F("design__mats__number"))
        held = Fitting.objects.current(on).filter(mat=OuterRef("mat"), position=OuterRef("number"))
        return of_mats.exclude(Exists(held)).order_by("mat_number", "number")


class DesignPosition(Recorded):
    design = models.ForeignKey(MatDesign, models.PROTECT, related_name="positions")
    number = models.PositiveSmallIntegerField("position")
    length_m = models.FloatField("cable length in m", validators=[check_positive])
    cable_type = models.ForeignKey(CableType, models.PROTECT, related_name="positions")
    length_basis = models.CharField(max_length=10, choices=LengthBasis.choices, default=LengthBasis.KNOWN)

    limits = {"number": POSITION, "length_m": CABLE_LENGTH}
    objects = DesignPositionQuerySet.as_manager()

    class Meta:
        ordering = ["design__code", "number"]
        constraints = [
            models.UniqueConstraint(fields=["design", "number"], name="one_position_of_a_number"),
            models.CheckConstraint(condition=Q(number__gte=1), name="positions_count_from_one"),
            models.CheckConstraint(condition=Q(length_m__gt=0), name="position_length_above_zero"),
        ]

    def __str__(self):
        return f"{self.design} position {self.number}"

    @property
    def length_is_estimated(self):
        """Nobody measured it."""
        return self.length_basis == LengthBasis.ESTIMATED


def mat_name(number):
    """A mat as sentences name it: a number of bare digits says nothing without the word, as in *mat 6*."""
    return f"mat {number}" if number.isdigit() else number


class MatQuerySet(WithdrawableQuerySet):
    def with_register(self):
        """What every list of mats names beside the number."""
        return self.select_related("design", "depot")

    def find(self, text):
        return self.filter(number__icontains=text)


class Mat(Withdrawable):
    number = CodeField("mat number", unique=True)
    number_key = CodeKeyField("number")
    design = models.ForeignKey(MatDesign, models.PROTECT, related_name="mats")
    depot = models.ForeignKey(Depot, models.PROTECT, null=True, blank=True, related_name="mats")
    owner = LineField(max_length=100, blank=True)
    acquired_on = models.DateField(null=True, blank=True)
    acquired_basis = models.CharField(max_length=10, choices=AcquiredBasis.choices, default=AcquiredBasis.KNOWN)

    limits = {"acquired_on": DAY_PASSED, "withdrawn_on": DAY_AHEAD}
    objects = MatQuerySet.as_manager()

    class Meta:
        ordering = ["number"]

    def __str__(self):
        return mat_name(self.number)

    def get_absolute_url(self):
        return reverse("fleet:mat-detail", args=[self.number])


class FaultQuerySet(models.QuerySet):
    def open_on(self, on):
        """Reported by then and not ended by then: a fault counts as ended from the day it ends."""
        return self.filter(reported_on__lte=on).filter(Q(ended_on=None) | Q(ended_on__gt=on))

    def of_mats_in_use(self, on):
        return self.filter(in_use(on, "mat"))

    def of_cables(self):
        return self.filter(place__in=CABLE_PLACES)

    def holding_back(self, on):
        """What keeps a mat from going out whatever its cables are worth."""
        return self.open_on(on).exclude(place__in=CABLE_PLACES)


class Fault(Recorded):
    mat = models.ForeignKey(Mat, models.PROTECT, related_name="faults")
    reported_on = models.DateField()
    number = models.PositiveSmallIntegerField("fault of that day", default=1)
    position = models.PositiveSmallIntegerField(null=True, blank=True)
    place = models.CharField(max_length=20, choices=FaultPlace.choices)
    what = LineField("what was seen", max_length=500, blank=True)
    ended_on = models.DateField(null=True, blank=True)
    end_reason = models.CharField(max_length=30, choices=FaultEnd.choices, blank=True)

    limits = {"reported_on": DAY_PASSED, "number": NUMBER_OF_DAY, "ended_on": DAY_AHEAD}
    objects = FaultQuerySet.as_manager()

    class Meta:
        ordering = ["mat__number", "reported_on", "number"]
        constraints = [
            models.UniqueConstraint(fields=["mat", "reported_on", "number"], name="one_fault_of_a_number_a_day"),
            models.CheckConstraint(
                condition=~Q(place__in=CABLE_PLACES) | Q(position__isnull=False), name="cable_fault_names_its_position"
            ),
            models.CheckConstraint(
                condition=~Q(place=FaultPlace.ONE_OF_CABLES) | Q(position__isnull=True),
                name="one_of_the_cables_names_no_position",
            ),
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True) | Q(ended_on__gte=F("reported_on")), name="fault_ends_after_report"
            ),
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True, end_reason="") | (Q(ended_on__isnull=False) & ~Q(end_reason="")),
                name="fault_end_has_day_and_reason",
            ),
        ]

    @property
    def is_of_cable(self):
        """Damage of the cable in its position; any other fault holds the mat back."""
        return self.place in CABLE_PLACES

    @property
    def asks_for_a_change(self):
        """A change of cables may answer it: it is of one of them, whether or not anybody knows of which."""
        return self.is_of_cable or self.place == FaultPlace.ONE_OF_CABLES

    @property
    def where(self):
        """Its place as pages name it: cover or fold; cable, position 3; place not known."""
        place = "place not known" if self.place == FaultPlace.NOT_KNOWN else self.place
        return f"{place}, position {self.position}" if self.position else place

    def __str__(self):
        return f"{self.mat}: {self.place} reported on {short_day(self.reported_on)}"
