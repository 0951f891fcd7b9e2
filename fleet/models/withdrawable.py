"""Rows that are taken out of use and stay on record."""

from django.db import models
from django.db.models import Q

from ..validators import REASON_LENGTH
from .codes import Coded, CodedQuerySet
from .fields import LineField


def in_use(on, row=""):
    """The condition: not withdrawn on that day. No day of withdrawing means still in use.

    `row`: the path to the row that is asked about, `design__mats` for example; none: the row itself.
    """
    withdrawn_on = f"{row}__withdrawn_on" if row else "withdrawn_on"
    return Q(**{withdrawn_on: None}) | Q(**{f"{withdrawn_on}__gt": on})


class WithdrawableQuerySet(CodedQuerySet):
    def in_use(self, on):
        return self.filter(in_use(on))


class Withdrawable(Coded):
    """A row with a code that is taken out of use with a day and a reason; deleted only where it never was."""

    withdrawn_on = models.DateField(null=True, blank=True)
    withdrawal_reason = LineField(max_length=REASON_LENGTH, blank=True)

    objects = WithdrawableQuerySet.as_manager()

    class Meta:
        abstract = True

    def in_use(self, on):
        return self.withdrawn_on is None or self.withdrawn_on > on
