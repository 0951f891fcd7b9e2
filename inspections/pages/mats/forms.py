"""The filters above the list of mats."""

from django import forms

from fleet.forms.fields import DayField
from fleet.forms.mats import MatFilter

from ...numeric.words import Status
from ...templatetags.mat_condition_text import mat_status


class MatConditionFilter(MatFilter):
    status = forms.TypedChoiceField(
        required=False,
        coerce=Status,
        empty_value=None,
        choices=[("", "any"), *((status, mat_status(status)) for status in Status)],
    )
    day = DayField(required=False, label="Fit to go on the day")

    field_order = ["find", "day", "status", "depot", "design", "owner", "where", "state"]

    def __init__(self, data, *, on, **kwargs):
        super().__init__(data, **kwargs)
        self.on = on

    def clean_day(self):
        """What was cannot be chosen any more: a day that has passed is refused."""
        day = self.cleaned_data["day"]
        if day and day < self.on:
            raise forms.ValidationError("Write today, or a day ahead.")
        return day
