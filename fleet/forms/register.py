"""Forms of mat designs and their positions, of cable types and of depots."""

from django import forms
from django.core.exceptions import ValidationError

from ..limits import (
    ATTENUATION,
    BEND_RADIUS,
    CABLE_LENGTH,
    FOLD_DISTANCE,
    MAT_WEIGHT,
    MAT_WIDTH,
    POSITION,
    SPANNER,
    TORQUE,
    VELOCITY_FACTOR,
)
from ..validators import CONNECTOR_LENGTH, check_folds, check_mail_addresses, mail_addresses
from .fields import CountField, NumberField, NumbersField
from .lengths import LengthCorrectionFields
from .record_forms import CorrectionFields, code_field


def check_lengths(lengths_m):
    if len(lengths_m) > POSITION.absurd_above:
        raise ValidationError(f"{len(lengths_m)} positions: a mat has {POSITION.absurd_above} at most.")


def _amount(label, limit, **kwargs):
    return NumberField(label=label, limit=limit, required=False, **kwargs)


def _connector(label, **kwargs):
    return forms.CharField(label=label, required=False, max_length=CONNECTOR_LENGTH, **kwargs)


class DepotForm(forms.Form):
    name = code_field("Depot")
    mail = forms.CharField(
        label="Morning mail to",
        required=False,
        max_length=500,
        validators=[check_mail_addresses],
        widget=forms.TextInput(attrs={"autocomplete": "off", "inputmode": "email"}),
        help_text="Mail addresses with commas between. The mail says what became due there. Empty: none.",
    )

    def clean_mail(self):
        return ", ".join(mail_addresses(self.cleaned_data["mail"]))


class DepotCorrectionForm(DepotForm, CorrectionFields):
    field_order = ["name", "mail", "reason"]


class CableTypeForm(forms.Form):
    name = code_field("Cable type")
    db_per_m_400mhz = NumberField(label="dB per m at 400 MHz", limit=ATTENUATION)
    db_per_m_1000mhz = NumberField(label="dB per m at 1000 MHz", limit=ATTENUATION)
    velocity_factor = _amount("Velocity factor", VELOCITY_FACTOR, help_text="A number up to 1.")
    bend_radius_mm = _amount("Smallest bend radius in mm", BEND_RADIUS)
    torque_min_nm = _amount(
        "Torque from, in N·m", TORQUE, help_text="From the maker's data sheet. Leave it empty if unknown."
    )
    torque_max_nm = _amount("Torque to, in N·m", TORQUE)
    spanner_mm = _amount("Spanner in mm", SPANNER)
    connector_feed = _connector("Connector at the feed end", help_text="As you would order it; or empty.")
    connector_element = _connector("Connector at the element")


class CableTypeCorrectionForm(CableTypeForm, CorrectionFields):
    field_order = [*CableTypeForm.base_fields, "reason"]


class DesignForm(forms.Form):
    code = code_field("Design")
    width_m = _amount("Width in m", MAT_WIDTH, help_text="Unknown: the mat is drawn “not to scale”.")
    folds_m = NumbersField(
        label="Fold lines in m",
        limit=FOLD_DISTANCE,
        required=False,
        checks=[check_folds],
        help_text="Distances from the feed end, as 0.5 1.0 1.5.",
    )
    weight_kg = _amount("Weight in kg", MAT_WEIGHT)
    steps = forms.CharField(
        label="Work steps",
        required=False,
        max_length=10_000,
        widget=forms.Textarea,
        help_text="One step a line. Empty: the usual steps.",
    )

    def clean_steps(self):
        """Lines end in one way, as in files."""
        return "\n".join(self.cleaned_data["steps"].splitlines())


class NewDesignForm(DesignForm):
    lengths_m = NumbersField(
        label="Cable lengths in m",
        limit=CABLE_LENGTH,
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
    length_m = NumberField(label="Cable length in m", limit=CABLE_LENGTH)
    cable_type = forms.ModelChoiceField(None, to_field_name="name", empty_label="choose")

    def __init__(self, *args, cable_types, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["cable_type"].queryset = cable_types


class NewPositionForm(PositionForm):
    number = CountField(label="Position", limit=POSITION)

    field_order = ["number", "length_m", "cable_type"]


class PositionCorrectionForm(PositionForm, LengthCorrectionFields):
    field_order = ["length_m", "length_basis", "cable_type", "reason"]
