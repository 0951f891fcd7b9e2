from django import forms

from fleet.forms.fields import NumberField
from fleet.validators import CODE_LENGTH, REASON_LENGTH, check_code, check_positive


class InstrumentForm(forms.Form):
    name = forms.CharField(label="Instrument", max_length=CODE_LENGTH, validators=[check_code])
    standard_uncertainty_db = NumberField(
        label="Standard uncertainty in dB",
        validators=[check_positive],
        help_text="Half of the expanded uncertainty (k = 2) that its papers or your own repeats give.",
    )


class InstrumentCorrectForm(InstrumentForm):
    because = forms.CharField(label="Why it is corrected", max_length=REASON_LENGTH, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput)
