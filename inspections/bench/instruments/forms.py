from django import forms

from fleet.forms.fields import NumberField
from fleet.forms.record_forms import CorrectionFields, code_field

from ...limits import UNCERTAINTY


class InstrumentForm(forms.Form):
    name = code_field("Instrument")
    standard_uncertainty_db = NumberField(
        label="Standard uncertainty in dB",
        limit=UNCERTAINTY,
        help_text="Half of the expanded uncertainty (k = 2) in its certificate, or of your own repeats.",
    )


class InstrumentCorrectionForm(InstrumentForm, CorrectionFields):
    field_order = ["name", "standard_uncertainty_db", "reason"]
