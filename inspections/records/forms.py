"""What is said when a record is made."""

from django import forms

from fleet.forms.fields import DayField
from fleet.forms.submissions import OnceForm
from fleet.limits import DAY_PASSED


class RecordForm(OnceForm):
    from_on = DayField(
        label="From",
        limit=DAY_PASSED,
        required=False,
        help_text="Empty: everything on record. Readings on which a verdict rests are listed in any case.",
    )
    made_for = forms.CharField(
        label="For whom", max_length=100, required=False, help_text="The owner or hirer, as it stands on the paper."
    )
