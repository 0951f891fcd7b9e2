"""Raising a work order."""

from django import forms

from fleet.forms.submissions import OnceForm
from fleet.models import CableSegment, Mat


class RaiseForm(OnceForm):
    """Chosen cables, by serial; with `whole_mats` also all else that is due in their mats."""

    segments = forms.ModelMultipleChoiceField(
        CableSegment.objects.all(),
        to_field_name="serial",
        error_messages={"required": "Choose at least one cable.", "invalid_choice": "There is no cable %(value)s."},
    )
    whole_mats = forms.BooleanField(required=False)


class AskForm(forms.Form):
    """The mats in the address of the page that raises work orders."""

    mat = forms.ModelMultipleChoiceField(
        Mat.objects.all(), to_field_name="number", error_messages={"invalid_choice": "There is no mat %(value)s."}
    )
