"""Forms of mats and of the filters above their list."""

from django import forms

from ..limits import DAY_PASSED
from .fields import DayField
from .record_forms import CorrectionFields, StateFilter, code_field


class MatForm(forms.Form):
    number = code_field("Mat number")
    design = forms.ModelChoiceField(None, to_field_name="code", empty_label="choose")
    depot = forms.ModelChoiceField(None, to_field_name="name", required=False, empty_label="no depot")
    owner = forms.CharField(max_length=100, required=False)
    acquired_on = DayField(label="Acquired on", limit=DAY_PASSED, required=False)

    def __init__(self, *args, designs, depots, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["design"].queryset = designs
        self.fields["depot"].queryset = depots
        if not depots:
            del self.fields["depot"]


class MatCorrectionForm(MatForm, CorrectionFields):
    field_order = ["number", "design", "depot", "owner", "acquired_on", "reason"]


class MatFilter(StateFilter):
    find = forms.CharField(required=False, label="Mat number has", max_length=60)
    depot = forms.ModelChoiceField(None, required=False, to_field_name="name", empty_label="all depots")
    design = forms.ModelChoiceField(None, required=False, to_field_name="code", empty_label="all designs")
    owner = forms.ChoiceField(required=False)

    field_order = ["find", "depot", "design", "owner", "state"]

    def __init__(self, data, *, depots, designs, owners):
        super().__init__(data)
        self.fields["depot"].queryset = depots
        self.fields["design"].queryset = designs
        self.fields["owner"].choices = [("", "all owners"), *((owner, owner) for owner in owners)]
        if len(depots) < 2 and not self.data.get("depot"):
            del self.fields["depot"]
