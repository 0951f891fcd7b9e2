"""With which instrument cables are measured, and how each is connected: what a number means hangs on both."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.fields import LongRadios
from fleet.parsing.whole_numbers import read_whole

from ..models import Instrument
from ..numeric.words import InstrumentKind, Method
from ..validators import check_method

METHODS = (
    (Method.THROUGH.value, "through: both ends connected"),
    (Method.FAR_END_OPEN.value, "far end open: one end connected, nothing at the other"),
    (Method.FAR_END_SHORTED.value, "far end shorted: one end connected, a short at the other"),
    (Method.ON_ELEMENT.value, "on its element: one end connected, the cable stays on its element"),
)
_HALF = "The instrument shows return loss. Half of it is the loss of the cable."
# what the number is that is typed
MEANS = {
    Method.THROUGH: "The number is the loss of the cable.",
    Method.FAR_END_OPEN: _HALF,
    Method.FAR_END_SHORTED: _HALF,
    Method.ON_ELEMENT: "The number is no loss of the cable. It is only compared with earlier ones on the same element.",
}
TESTER_MEANS = "The tester says within or over. Type w or o: that key alone is enough."
NOT_SAID = "Choose one. Without it a number means nothing."


def proposed_method(instrument):
    """What is mostly done with it; "" where that must be said."""
    return "" if instrument and instrument.kind == InstrumentKind.ONE_PORT else Method.THROUGH.value


def with_method_proposed(data, instruments):
    """What was sent, the method proposed anew where the instrument is another one than it was chosen for."""
    named = data.get("instrument", "")
    if data.get("method_for", "") == named:
        return data
    data = data.copy()
    data["method"] = proposed_method(instruments.filter(pk=read_whole(named)).first() if named else None)
    data["method_for"] = named
    data.pop("leads_out", None)
    return data


def method_remembered(kept, instrument):
    """What the head of the next form begins with, from the method that was `kept` with readings."""
    if not kept:
        return {"method": None, "leads_out": False}
    referenced = kept != Method.NOT_REFERENCED
    asks = bool(instrument and instrument.leads_taken_out)
    return {"method": kept if referenced else Method.THROUGH.value, "leads_out": referenced and asks}


class MethodFields(forms.Form):
    """`method_for`: the instrument that the method was chosen for, as its field holds it."""

    instrument = forms.ModelChoiceField(Instrument.objects.none(), required=False, empty_label="not named")
    method = forms.ChoiceField(
        label="How is each cable connected?", choices=METHODS, required=False, widget=LongRadios, initial=""
    )
    leads_out = forms.BooleanField(label="Leads were taken out by a through reading today", required=False)
    method_for = forms.CharField(required=False, max_length=20, widget=forms.HiddenInput)

    def offer_instruments(self, instruments):
        """These can be chosen; about leads is asked where one of them wants it."""
        self.fields["instrument"].queryset = instruments
        asking = [str(instrument) for instrument in instruments if instrument.leads_taken_out]
        if asking:
            self.fields["leads_out"].help_text = f"Asked of {', '.join(asking)}. Without it there is no verdict."
        else:
            del self.fields["leads_out"]
        if not self.is_bound:
            self._propose()

    def _propose(self):
        instrument = self.initial_instrument
        self.said_before = self.initial.get("method") is not None
        if self.initial.get("method") is None:
            self.initial["method"] = proposed_method(instrument)
        self.initial["method_for"] = str(instrument.pk) if instrument else ""

    @property
    def initial_instrument(self):
        """The remembered instrument, while it is in use."""
        return self.fields["instrument"].queryset.filter(pk=self.initial.get("instrument")).first()

    @property
    def chosen_instrument(self):
        return self.cleaned_data.get("instrument") if self.is_bound else self.initial_instrument

    @property
    def kind(self):
        """Of the instrument that is chosen; "" where none is, or nobody said."""
        return self.chosen_instrument.kind if self.chosen_instrument else ""

    @property
    def chosen_method(self):
        return (self.cleaned_data if self.is_bound else self.initial).get("method") or ""

    @property
    def asks_leads(self):
        return "leads_out" in self.fields

    @property
    def method_field(self):
        return self["method"]

    @property
    def leads_out_field(self):
        return self["leads_out"]

    @property
    def method_for_field(self):
        return self["method_for"]

    @property
    def kept_method(self):
        """As it goes with each reading."""
        instrument = self.chosen_instrument
        out = self.cleaned_data.get("leads_out") or self.chosen_method == Method.ON_ELEMENT
        if instrument and instrument.leads_taken_out and not out:
            return Method.NOT_REFERENCED.value
        return self.chosen_method

    @property
    def means(self):
        """What the number is that the instrument shows."""
        if self.kind == InstrumentKind.GO_NO_GO:
            return TESTER_MEANS
        return MEANS.get(self.chosen_method, NOT_SAID)

    def check_connected(self):
        """Refuse, at its field, a method in which that instrument shows something else."""
        if "method" in self.errors or "instrument" in self.errors:
            return
        try:
            check_method(self.kind, self.chosen_method)
        except ValidationError as error:
            self.add_error("method", error)
