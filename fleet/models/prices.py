"""What cables cost, and how long they take to come: single ones, or the set of a design."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.urls import reverse

from ..figures import two_places
from ..limits import CABLE_LENGTH, LEAD_TIME, PRICE
from ..validators import SUPPLIER_NUMBER_LENGTH, check_positive
from .fields import LineField
from .mats import MatDesign
from .segments import CableType, of_length
from .trail import Recorded

# a hundredth of whatever the pool pays in
PLACES, DIGITS = 2, 10


class PriceQuerySet(models.QuerySet):
    def with_names(self):
        return self.select_related("cable_type", "design")

    def of_same(self, *, cable_type=None, length_m=None, design=None):
        """Those of this kind of cable, of any length of the type (no length), or of the set of the design."""
        alike = Q(length_m=None) if length_m is None else of_length(length_m)
        return self.filter(alike, cable_type=cable_type, design=design)


class Price(Recorded):
    """A line of a price list. A cable type without a length: what holds for every length that has no line.

    The price is in the pool's own currency, which nobody has to name. Nothing but the key need be known.
    """

    cable_type = models.ForeignKey(CableType, models.PROTECT, null=True, blank=True, related_name="prices")
    length_m = models.FloatField("length in m", null=True, blank=True, validators=[check_positive])
    design = models.ForeignKey(MatDesign, models.PROTECT, null=True, blank=True, related_name="prices")
    price = models.DecimalField(max_digits=DIGITS, decimal_places=PLACES, null=True, blank=True)
    lead_time_days = models.PositiveSmallIntegerField("lead time in days", null=True, blank=True)
    supplier_number = LineField("supplier’s number", max_length=SUPPLIER_NUMBER_LENGTH, blank=True)

    limits = {"length_m": CABLE_LENGTH, "price": PRICE, "lead_time_days": LEAD_TIME}
    objects = PriceQuerySet.as_manager()

    class Meta:
        ordering = ["cable_type__name", "length_m", "design__code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(cable_type__isnull=False, design__isnull=True)
                | Q(cable_type__isnull=True, design__isnull=False, length_m__isnull=True),
                name="a_price_is_of_a_cable_or_of_a_set",
                violation_error_message="A price is of a cable type, or of the set of a design.",
            ),
            models.CheckConstraint(
                condition=Q(length_m__isnull=True) | Q(length_m__gt=0), name="price_length_above_zero"
            ),
            models.CheckConstraint(condition=Q(price__isnull=True) | Q(price__gt=0), name="price_above_zero"),
            models.UniqueConstraint(
                fields=["cable_type", "length_m"], condition=Q(length_m__isnull=False), name="a_kind_has_one_price"
            ),
            models.UniqueConstraint(
                fields=["cable_type"],
                condition=Q(length_m__isnull=True, design__isnull=True),
                name="any_length_has_one_price",
            ),
            models.UniqueConstraint(fields=["design"], condition=Q(design__isnull=False), name="a_set_has_one_price"),
        ]

    def __str__(self):
        return f"Price of {self.what}"

    @property
    def what(self):
        if self.design is not None:
            return f"the set of {self.design}"
        return f"{self.cable_type}, {two_places(self.length_m) + ' m' if self.length_m else 'any length'}"

    def get_absolute_url(self):
        return reverse("fleet:price-list")

    def clean(self):
        if self.price is None and self.lead_time_days is None and not self.supplier_number:
            raise ValidationError({"price": "Write a price, a lead time or a supplier’s number."})
