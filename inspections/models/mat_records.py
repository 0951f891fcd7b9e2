"""Records of a mat: what its owner was told, kept as printed."""

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from fleet.limits import DAY_PASSED
from fleet.models import Mat
from fleet.models.fields import CodeField, CodeKeyField, LineField
from fleet.models.withdrawable import Withdrawable, WithdrawableQuerySet


class MatRecordQuerySet(WithdrawableQuerySet):
    def with_register(self):
        """What a list names beside the number; the page itself is left in the database."""
        return self.defer("content").select_related("mat__depot", "recorded_by")


class MatRecord(Withdrawable):
    """Its content is data in words, so that no later correction, and no later version of the app, changes it."""

    number = CodeField("record", unique=True)
    number_key = CodeKeyField("number")
    mat = models.ForeignKey(Mat, models.PROTECT, related_name="records")
    # the period that it tells of; no first day: all that is on record
    from_on = models.DateField(null=True, blank=True)
    until_on = models.DateField()
    made_for = LineField(max_length=100, blank=True)
    content = models.JSONField(default=dict)

    limits = {"from_on": DAY_PASSED, "until_on": DAY_PASSED, "withdrawn_on": DAY_PASSED}
    objects = MatRecordQuerySet.as_manager()

    class Meta:
        ordering = ["-until_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(from_on__isnull=True) | Q(from_on__lte=F("until_on")), name="a_record_ends_after_it_begins"
            ),
        ]

    def __str__(self):
        return self.number

    def get_absolute_url(self):
        return reverse("inspections:record", args=[self.number])
