"""Forms of mat designs and their positions, of cable types and of depots."""

from django import forms
from django.core.exceptions import ValidationError

from ..validators import check_folds, check_positive
from .fields import CountField, NumberField, NumbersField
from .record_forms import CorrectionFields, code_field

MOST_POSITIONS = 100


def check_lengths(lengths_m):
    for length_m in lengths_m:
        check_positive(length_m)
    if len(lengths_m) > MOST_POSITIONS:
        raise ValidationError(f"{len(lengths_m)} positions: a mat has {MOST_POSITIONS} at most.")


def _amount(label, **kwargs):
    return NumberField(label=label, required=False, validators=[check_positive], **kwargs)


class DepotForm(forms.Form):
    name = code_field("Depot")


class DepotCorrectionForm(DepotForm, CorrectionFields):
    field_order = ["name", "reason"]


class CableTypeForm(forms.Form):
    name = code_field("Cable type")
    db_per_m_400mhz = NumberField(label="dB per m at 400 MHz", validators=[check_positive])
    db_per_m_1000mhz = NumberField(label="dB per m at 1000 MHz", validators=[check_positive])
    velocity_factor = _amount("Velocity factor", help_text="A number up to 1.")
    bend_radius_mm = _amount("Smallest bend radius in mm")
    torque_min_nm = _amount("Torque from, in N·m", help_text="From the maker's data sheet. Leave it empty if unknown.")
    torque_max_nm = _amount("Torque to, in N·m")
    spanner_mm = _amount("Spanner in mm")


class CableTypeCorrectionForm(CableTypeForm, CorrectionFields):
    field_order = [*CableTypeForm.base_fields, "reason"]


class DesignForm(forms.Form):
    code = code_field("Design")
    width_m = _amount("Width in m", help_text="Unknown: the mat is drawn “not to scale”.")
    folds_m = NumbersField(
        label="Fold lines in m",
        required=False,
        checks=[check_folds],
        help_text="Distances from the feed end, as 0.5 1.0 1.5.",
    )
    weight_kg = _amount("Weight in kg")
    steps = forms.CharField(
        label="Work steps",
        required=False,
        max_length=10_000,
        widget=forms.Textarea,
        help_text="One step a line. Empty: the usual steps.",
    )


class NewDesignForm(DesignForm):
    lengths_m = NumbersField(
        label="Cable lengths in m",
        checks=[check_lengths],
        help_text="One for each position, from the feed end, as 0.45 0.95 1.45.",
    )
    cable_type = forms.ModelChoiceField(
        None,
        to_field_name="name",
        empty_label="choose",
        help_text="For all positions. You can correct single ones later.",
    )

    field_order = ["code", "width_m", "folds_m", "weight_kg", "lengths_m", "cable_type", "steps"]

    def __init__(self, *args, cable_types, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["cable_type"].queryset = cable_types


class DesignCorrectionForm(DesignForm, CorrectionFields):
    field_order = ["code", "width_m", "folds_m", "weight_kg", "steps", "reason"]


class PositionForm(forms.Form):
    length_m = NumberField(label="Cable length in m", validators=[check_positive])
    cable_type = forms.ModelChoiceField(None, to_field_name="name", empty_label="choose")

    def __init__(self, *args, cable_types, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["cable_type"].queryset = cable_types


class NewPositionForm(PositionForm):
    number = CountField(label="Position", least=1, most=MOST_POSITIONS)

    field_order = ["number", "length_m", "cable_type"]


class PositionCorrectionForm(PositionForm, CorrectionFields):
    field_order = ["length_m", "cable_type", "reason"]
