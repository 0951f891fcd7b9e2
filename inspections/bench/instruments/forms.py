from django import forms

from fleet.forms.fields import LongRadios, NumberField
from fleet.forms.record_forms import CorrectionFields, code_field

from ...limits import LOSS_LIMIT, UNCERTAINTY
from ...numeric.methods import DEFAULT_UNCERTAINTY_DB
from ...numeric.words import InstrumentKind

# what it is, for somebody who has it in the hand
_IN_WORDS = {
    InstrumentKind.TWO_PORT: "an analyser with two ports, calibrated at both",
    InstrumentKind.RESPONSE_ONLY: "an analyser that sends at one port and receives at the other, set to nought without "
    "a full calibration",
    InstrumentKind.ONE_PORT: "an analyser with one port, such as a pocket one: it shows return loss",
    InstrumentKind.LOSS_METER: "a source at one end and a meter at the other: it shows dB",
    InstrumentKind.GO_NO_GO: "a tester that says within or over, and no number",
}


def _choices():
    yield "", "not said"
    for kind, words in _IN_WORDS.items():
        default_db = DEFAULT_UNCERTAINTY_DB.get(kind)
        usual = f" (usual uncertainty {default_db:g} dB: our judgement)" if default_db else ""
        yield kind.value, f"{kind.value}: {words}{usual}"


class InstrumentForm(forms.Form):
    name = code_field("Instrument")
    kind = forms.ChoiceField(label="What it is", choices=_choices, required=False, initial="", widget=LongRadios)
    standard_uncertainty_db = NumberField(
        label="Standard uncertainty in dB",
        limit=UNCERTAINTY,
        required=False,
        help_text="Half of the expanded uncertainty (k = 2) in its certificate. Empty: the usual one of its kind.",
    )
    set_limit_db = NumberField(
        label="Set limit in dB",
        limit=LOSS_LIMIT,
        required=False,
        help_text="Of a go/no-go tester only: the loss from which on it says “over”.",
    )
    repeatability_db = NumberField(
        label="Repeatability in dB",
        limit=UNCERTAINTY,
        required=False,
        help_text="By how much two readings of one cable differ that was connected anew (a standard deviation).",
    )
    leads_taken_out = forms.BooleanField(
        label="Its leads are taken out by a through reading",
        required=False,
        help_text="The bench then asks each day whether that was done. A reading without it gets no verdict.",
    )


class InstrumentCorrectionForm(InstrumentForm, CorrectionFields):
    field_order = [*InstrumentForm.base_fields, "reason"]
