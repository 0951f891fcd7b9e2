"""Policy values that the keeper has set; what is not here has its default."""

from django.db import models
from django.db.models import Exists, OuterRef, Q

from fleet.models import Depot, DesignPosition, MatDesign
from fleet.models.fields import LineField
from fleet.models.trail import Recorded
from fleet.validators import REASON_LENGTH

from ..choices import SETTINGS
from ..validators import check_setting


class PolicyValueQuerySet(models.QuerySet):
    def known(self):
        """Values of the settings that there are; one of a setting that is no more is kept, in case it comes back."""
        return self.filter(setting__in=SETTINGS)

    def in_force(self):
        """Values that stand; a cleared one is kept for the trail only, and a new one may be set beside it.

        One of a position that its design has no more is kept, in case it comes back.
        """
        there = DesignPosition.objects.filter(design=OuterRef("design"), number=OuterRef("position"))
        return self.known().filter(Q(position=None) | Exists(there), cleared_on=None)


def place_in_words(design, position, depot):
    if position is not None:
        return f"position {position} of {design}"
    return f"{design or depot or 'the pool'}"


class PolicyValue(Recorded):
    setting = models.CharField(max_length=40, choices=[(name, s.label) for name, s in SETTINGS.items()])
    value = models.FloatField()
    design = models.ForeignKey(MatDesign, models.PROTECT, null=True, blank=True, related_name="policy_values")
    # of the design; none: the value holds for all its positions
    position = models.PositiveSmallIntegerField(null=True, blank=True)
    depot = models.ForeignKey(Depot, models.PROTECT, null=True, blank=True, related_name="policy_values")
    reason = LineField("why", max_length=REASON_LENGTH, blank=True)
    # from this day on the pool's value, or the default, stands again
    cleared_on = models.DateField(null=True, blank=True)

    objects = PolicyValueQuerySet.as_manager()

    class Meta:
        ordering = ["setting", "design__code", "position", "depot__name"]
        constraints = [
            models.UniqueConstraint(
                fields=["setting"],
                condition=Q(design=None, depot=None, cleared_on=None),
                name="one_pool_value_of_a_setting",
            ),
            models.UniqueConstraint(
                fields=["setting", "design"],
                condition=Q(depot=None, position=None, cleared_on=None),
                name="one_design_value_of_a_setting",
            ),
            models.UniqueConstraint(
                fields=["setting", "design", "position"],
                condition=Q(depot=None, cleared_on=None),
                name="one_position_value_of_a_setting",
            ),
            models.UniqueConstraint(
                fields=["setting", "depot"],
                condition=Q(design=None, cleared_on=None),
                name="one_depot_value_of_a_setting",
            ),
            models.CheckConstraint(
                condition=Q(design__isnull=True) | Q(depot__isnull=True), name="policy_of_a_design_or_a_depot"
            ),
            models.CheckConstraint(
                condition=Q(position__isnull=True) | Q(design__isnull=False), name="policy_position_names_its_design"
            ),
        ]

    def __str__(self):
        return f"{self.setting} of {self.place}: {self.value:g}"

    @property
    def place(self):
        """What it holds for, in words."""
        return place_in_words(self.design, self.position, self.depot)

    def clean(self):
        check_setting(self.setting, self.value)
