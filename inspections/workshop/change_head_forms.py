"""What holds for all positions that are changed: day, name, instrument, where the old ones go, faults that end."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.choices import Disposition, FittedBasis
from fleet.forms.fields import DayField, NumberField
from fleet.forms.record_forms import word_choices
from fleet.forms.submissions import OnceForm
from fleet.limits import DAY_PASSED
from fleet.validators import check_line, check_not_after

from ..bench.method_forms import MethodFields
from ..limits import FREQUENCY, TEMPERATURE
from ..templatetags.figures import short_day
from .change_services import Bench


class ChangeHeadForm(MethodFields, OnceForm):
    changed_on = DayField(label="Changed on", limit=DAY_PASSED)
    basis = forms.ChoiceField(
        label="How well that day is known", choices=[(word, word) for word in (FittedBasis.KNOWN, FittedBasis.ABOUT)]
    )
    measured_by = forms.CharField(label="Who did it", max_length=100, required=False, validators=[check_line])
    frequency_mhz = NumberField(label="Frequency in MHz", required=False, limit=FREQUENCY)
    temperature_c = NumberField(label="Temperature in °C", required=False, limit=TEMPERATURE)
    goes = forms.ChoiceField(label="Where the old ones go", choices=word_choices(Disposition), initial=Disposition.AWAY)
    faults = forms.MultipleChoiceField(
        required=False, widget=forms.CheckboxSelectMultiple, label="Faults that this answers"
    )

    HEAD = (
        "changed_on",
        "basis",
        "measured_by",
        "instrument",
        "method",
        "leads_out",
        "frequency_mhz",
        "temperature_c",
        "goes",
    )
    HOW = ("method", "leads_out")

    def __init__(self, data=None, *, instruments, faults, on, initial):
        super().__init__(data, initial=initial)
        self.on = on
        self.offer_instruments(instruments)
        self.open_faults = {str(fault.pk): fault for fault in faults}
        self.fields["faults"].choices = [(key, _label(fault)) for key, fault in self.open_faults.items()]

    def clean_changed_on(self):
        check_not_after(self.cleaned_data["changed_on"], self.on, "day of the change")
        return self.cleaned_data["changed_on"]

    def clean_faults(self):
        faults = [self.open_faults[key] for key in self.cleaned_data["faults"]]
        changed_on = self.cleaned_data.get("changed_on")
        for fault in faults:
            if changed_on and fault.reported_on > changed_on:
                raise ValidationError(f"“{_label(fault)}” is later than the day of the change: untick it.")
        return faults

    @property
    def bench(self):
        values = {name: self.cleaned_data.get(name) for name in ("instrument", "frequency_mhz", "temperature_c")}
        return Bench(**values, method=self.kept_method, measured_by=self.cleaned_data.get("measured_by", ""))

    @property
    def head(self):
        """What holds for all positions, as it was typed or as it stands in the empty form."""
        if self.is_bound:
            return self.cleaned_data
        return {"goes": self["goes"].initial} | self.initial | {"instrument": self.initial_instrument}

    @property
    def head_fields(self):
        """Those beside how cables are connected."""
        return [self[name] for name in self.HEAD if name not in self.HOW]

    @property
    def head_is_wrong(self):
        return any(name in self.errors for name in self.HEAD)


def _label(fault):
    seen = f"{fault.where}: {fault.what}" if fault.what else fault.where
    return f"{seen}, reported on {short_day(fault.reported_on)}"
