"""What holds for a batch, said once; then a value and Enter, a value and Enter."""

import re

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.fields import DayField, NumberField
from fleet.forms.record_forms import CorrectionFields, VersionForm, word_choices
from fleet.forms.submissions import OnceForm
from fleet.limits import CABLE_LENGTH, DAY_PASSED
from fleet.models import CableType, Depot
from fleet.validators import CODE_LENGTH, check_code, check_not_after

from ..bench.forms import LossField
from ..choices import BatchOf
from ..limits import FREQUENCY, TEMPERATURE
from ..models import Instrument
from ..numeric.words import Method
from ..validators import parse_loss

# of a loose cable there is no element, and a batch that is not referenced decides nothing
METHODS = (Method.THROUGH, Method.FAR_END_OPEN, Method.FAR_END_SHORTED)
# `7: 2.91`, `7=2.91`: cable 7 read again
_AGAIN = re.compile(r"\s*([0-9]{1,5})\s*[:=](.*)", re.DOTALL)


class BatchFields(forms.Form):
    holds = forms.ChoiceField(
        label="They are",
        choices=word_choices(BatchOf),
        initial=BatchOf.NEW,
        help_text="New ones are held against fresh ones, too. Those from a box are judged by the limit alone.",
    )
    cable_type = forms.ModelChoiceField(CableType.objects.none(), label="Cable type", empty_label="choose")
    length_m = NumberField(label="Length in m", limit=CABLE_LENGTH)
    lot = forms.CharField(label="Lot", max_length=60, required=False, help_text="What is written on box or drum.")
    depot = forms.ModelChoiceField(Depot.objects.none(), required=False, empty_label="not said")
    measured_on = DayField(label="Measured on", limit=DAY_PASSED)
    instrument = forms.ModelChoiceField(Instrument.objects.none(), required=False, empty_label="not named")
    method = forms.ChoiceField(
        label="How each is connected",
        required=False,
        choices=[("", "not recorded, taken as through"), *((word.value, word.value) for word in METHODS)],
        help_text="Through: both ends on the instrument. Far end open or shorted: type what it shows.",
    )
    leads_out = forms.BooleanField(label="Leads were taken out by a through reading", required=False)
    frequency_mhz = NumberField(
        label="Frequency in MHz", required=False, limit=FREQUENCY, help_text="Empty: the reference frequency."
    )
    temperature_c = NumberField(
        label="Temperature in °C", required=False, limit=TEMPERATURE, help_text="Empty: 20 °C is assumed."
    )
    measured_by = forms.CharField(label="Measured by", max_length=100, required=False)

    def __init__(self, *args, offered, on, **kwargs):
        super().__init__(*args, **kwargs)
        self.on = on
        for name, rows in offered.items():
            self.fields[name].queryset = rows
        asking = [str(row) for row in offered["instrument"] if row.leads_taken_out]
        self.fields["leads_out"].help_text = f"Asked of {', '.join(asking)}."
        if not asking:
            del self.fields["leads_out"]

    @property
    def act_values(self):
        """Without what is only asked."""
        return {name: value for name, value in self.cleaned_data.items() if name != "leads_out"}

    def clean(self):
        values = super().clean() or self.cleaned_data
        instrument = values.get("instrument")
        if instrument and instrument.leads_taken_out and not values.get("leads_out"):
            sentence = f"{instrument} shows the loss of its leads, too. Take them out, and tick that you did."
            self.add_error("leads_out", sentence)
        return values

    def clean_measured_on(self):
        check_not_after(self.cleaned_data["measured_on"], self.on, "day of measuring")
        return self.cleaned_data["measured_on"]


class StartBatchForm(BatchFields, OnceForm):
    pass


class BatchCorrectionForm(BatchFields, CorrectionFields):
    pass


class EndBatchForm(VersionForm):
    """`counted`: asked where such cables are counted on the shelf."""

    counted = forms.BooleanField(
        label="They were counted on the shelf before, without a serial",
        required=False,
        help_text="Then as many less are counted there.",
    )

    def __init__(self, *args, counted_there, **kwargs):
        super().__init__(*args, **kwargs)
        if not counted_there:
            del self.fields["counted"]


class ValueField(LossField):
    """A value as typed: (number of the cable that is read again or None, TypedLoss)."""

    def to_python(self, value):
        text = forms.CharField.to_python(self, value)
        if not text:
            return None
        again = _AGAIN.fullmatch(text)
        return (int(again[1]), parse_loss(again[2])) if again else (None, parse_loss(text))


class ValueForm(OnceForm):
    """One value. Its field keeps the focus."""

    loss = ValueField(label="Value, dB")
    serial = forms.CharField(
        label="Serial",
        max_length=CODE_LENGTH,
        required=False,
        validators=[check_code],
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )
    number_on = forms.BooleanField(label="Give each the next free serial", required=False)

    def __init__(self, *args, batch, **kwargs):
        super().__init__(*args, **kwargs)
        self.batch = batch
        self.fields["loss"].required = True
        self.fields["loss"].error_messages["required"] = "Type a value first."
        wrong = "serial" if self.is_bound and "serial" in self.errors and "loss" not in self.errors else "loss"
        self.fields[wrong].widget.attrs["autofocus"] = True

    @property
    def one_key(self):
        """A go/no-go tester: w or o is all that there is to type."""
        return bool(self.batch.instrument and self.batch.instrument.is_go_no_go)

    @property
    def act_values(self):
        cable, loss = self.cleaned_data["loss"]
        values = {name: self.cleaned_data[name] for name in ("token", "serial", "number_on")}
        return {"loss": loss, "cable": cable, **values}

    @property
    def unlikely(self):
        """The number that has to be confirmed; '' for none."""
        if not self.is_bound or not self.has_error("loss", code="unlikely"):
            return ""
        return f"{self.fields['loss'].clean(self['loss'].value())[1].loss_db:g}"

    def clean_loss(self):
        cable, loss = self.cleaned_data["loss"]
        if loss.go_no_go and not self.one_key:
            raise ValidationError("Only a go/no-go tester says so, and this batch names none. Type a number of dB.")
        if loss.loss_db is not None and self.one_key:
            raise ValidationError("A go/no-go tester shows no number. Type w for within or o for over.")
        if loss.is_unlikely and self.data.get("sure") != f"{loss.loss_db:g}":
            sentence = f"{loss.loss_db:g} dB is very high. Tick to confirm it, or correct it."
            raise ValidationError(sentence, code="unlikely")
        return cable, loss


def typed_again(cable):
    """What stands in the field while that cable is read again."""
    return f"{cable.number}: "
