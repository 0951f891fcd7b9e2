"""What holds for all readings of a mat: the head of the form of the bench."""

from django import forms

from fleet.forms.fields import DayField, NumberField
from fleet.forms.submissions import OnceForm
from fleet.limits import DAY_PASSED
from fleet.validators import check_line, check_not_after

from ..choices import MeasurementReason
from ..limits import FREQUENCY, TEMPERATURE
from .method_forms import MethodFields


class BenchHeadForm(MethodFields, OnceForm):
    measured_on = DayField(label="Measured on", limit=DAY_PASSED)
    frequency_mhz = NumberField(
        label="Frequency in MHz",
        required=False,
        limit=FREQUENCY,
        help_text="Empty: the reference frequency.",
    )
    temperature_c = NumberField(
        label="Temperature in °C",
        required=False,
        limit=TEMPERATURE,
        help_text="Empty: 20 °C is assumed.",
    )
    measured_by = forms.CharField(label="Measured by", max_length=100, required=False, validators=[check_line])
    reason = forms.ChoiceField(label="Why", choices=MeasurementReason.choices)

    # what is remembered for the next mat
    HEAD = (
        "measured_on",
        "instrument",
        "method",
        "leads_out",
        "frequency_mhz",
        "temperature_c",
        "measured_by",
        "reason",
    )
    HOW = ("method", "leads_out")

    def __init__(self, *args, instruments, on, **kwargs):
        super().__init__(*args, **kwargs)
        self.on = on
        self.offer_instruments(instruments)

    def clean_measured_on(self):
        check_not_after(self.cleaned_data["measured_on"], self.on, "day of measuring")
        return self.cleaned_data["measured_on"]

    def clean(self):
        self.check_connected()

    def head(self):
        return {name: self.cleaned_data.get(name, False) for name in self.HEAD}

    @property
    def head_fields(self):
        """Those beside how cables are connected."""
        return [self[name] for name in self.HEAD if name not in self.HOW]

    @property
    def head_is_wrong(self):
        return any(name in self.errors for name in self.HEAD)

    @property
    def bench_day(self):
        """Day and instrument (its key or None) of a head that is right."""
        instrument = self.cleaned_data["instrument"]
        return self.cleaned_data["measured_on"], instrument and instrument.pk

    @property
    def head_is_open(self):
        """Something in it is to be said."""
        return self.head_is_wrong or not self.chosen_method
