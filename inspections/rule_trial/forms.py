"""What somebody asks of rules against each other: an age and a count to try, what work at the bench takes."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.fields import NumberField
from fleet.months import MONTHS_A_YEAR
from fleet.parsing.durations import read_months

from ..choices import SETTINGS
from .question_services import Asked


class AgeField(forms.CharField):
    """Years and months, within what the policy takes; given in years."""

    def to_python(self, value):
        text, limit = super().to_python(value), SETTINGS["age_limit_years"]
        if not text:
            return None
        try:
            years = read_months(text) / MONTHS_A_YEAR
        except ValueError:
            raise ValidationError("Write years and months, such as 2 years 6 months.", code="invalid") from None
        if not limit.lowest - 1e-9 <= years <= limit.highest:
            raise ValidationError("Write a time from 1 month to 40 years.", code="range")
        return years

    def run_validators(self, value):
        """Those of a text do not fit a number."""


def _minutes(label):
    return NumberField(required=False, label=label, min_value=0, max_value=24 * 60)


class TrialForm(forms.Form):
    """Everything may be left out: an address without a question asks for the pool's own limits."""

    age = AgeField(required=False, label="An age to try", max_length=40, help_text="Such as 2 years 6 months.")
    events = NumberField(required=False, label="A number of events to try", min_value=1, max_value=100_000)
    per_mat = _minutes("Minutes to lay a mat on the bench and pack it again")
    per_reading = _minutes("Minutes to read a cable")

    @property
    def typed(self):
        """What was typed and is no mistake."""
        return self.cleaned_data if self.is_bound else {}

    def asked(self, usual):
        """Asked: what was typed, else the `usual` one."""
        return Asked(self.typed.get("age") or usual.age_years, self.typed.get("events") or usual.events)

    @property
    def minutes(self):
        """(per mat, per reading); None where one of them is not known."""
        both = tuple(self.typed.get(name) for name in ("per_mat", "per_reading"))
        return None if None in both else both
