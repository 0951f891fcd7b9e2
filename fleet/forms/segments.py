"""Forms of cable segments and of the filters above their list."""

from django import forms

from ..choices import SerialBasis
from ..limits import AS_NEW_LOSS, CABLE_LENGTH, EVENTS_BEFORE
from ..selectors.segments import ALL, FITTED, IN_USE, SHELF, WITHDRAWN
from ..services.arrivals import Arrival
from ..validators import check_positive
from .fields import CountField, NumberField
from .lengths import LengthCorrectionFields
from .record_forms import StateFilter, code_field


class SegmentForm(forms.Form):
    serial = code_field("Serial")
    cable_type = forms.ModelChoiceField(None, to_field_name="name", empty_label="choose")
    length_m = NumberField(label="Length in m", limit=CABLE_LENGTH)
    lot = forms.CharField(max_length=60, required=False)
    as_new_loss_db = NumberField(
        label="As-new loss in dB",
        required=False,
        limit=AS_NEW_LOSS,
        help_text="As measured when it was new, at the reference frequency and 20 °C. Not measured: leave it empty.",
    )
    events_before = CountField(
        label="Events before the records begin",
        required=False,
        limit=EVENTS_BEFORE,
    )

    def __init__(self, *args, cable_types, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["cable_type"].queryset = cable_types


class SegmentAddForm(SegmentForm):
    """A cable that comes to the shelf, or was counted there before it had its serial."""

    depot = forms.ModelChoiceField(
        None, label="Lies at", required=False, to_field_name="name", empty_label="not said", help_text="Its depot."
    )
    counted = forms.BooleanField(
        label="It was counted on the shelf before, without a serial",
        required=False,
        help_text="Then one less is counted there.",
    )

    def __init__(self, *args, depots, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["depot"].queryset = depots

    @property
    def act_values(self):
        """The arguments of `add_segment`."""
        values = dict(self.cleaned_data)
        return {"arrival": Arrival(values.pop("depot"), values.pop("counted"))} | values


class SegmentCorrectionForm(SegmentForm, LengthCorrectionFields):
    """A serial that somebody corrects stands on the cable, unless they say otherwise."""

    serial_basis = forms.ChoiceField(
        label="Where the serial is from",
        choices=[
            (SerialBasis.OWN, "it stands on the cable"),
            (SerialBasis.GIVEN, "our number: none stands on the cable"),
        ],
        required=False,
    )

    field_order = [
        "serial",
        "serial_basis",
        "cable_type",
        "length_m",
        "length_basis",
        "lot",
        "as_new_loss_db",
        "events_before",
        "reason",
    ]

    def clean_serial_basis(self):
        if "serial" in self.changed_data and "serial_basis" not in self.changed_data:
            return SerialBasis.OWN
        return self.cleaned_data["serial_basis"] or self.initial.get("serial_basis", SerialBasis.OWN)


class SegmentFilter(StateFilter):
    state = None
    where = forms.ChoiceField(
        required=False,
        label="Where",
        choices=[("", IN_USE), *((word, word) for word in (SHELF, FITTED, WITHDRAWN, ALL))],
    )
    find = forms.CharField(required=False, label="Serial has", max_length=60)
    cable_type = forms.ModelChoiceField(None, required=False, to_field_name="name", empty_label="all types")
    length_m = NumberField(required=False, label="Length, m", validators=[check_positive])

    field_order = ["find", "where", "cable_type", "length_m"]

    def __init__(self, data, *, cable_types):
        super().__init__(data)
        self.fields["cable_type"].queryset = cable_types
