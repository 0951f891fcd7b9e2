"""Forms of fitting a cable, of taking one out, and of correcting a fitting."""

from django import forms
from django.core.exceptions import ValidationError

from ..choices import Disposition, FittedBasis
from ..selectors.segments import segment_named
from ..services.fittings import TakenOut
from .fields import DayField
from .record_forms import CorrectionFields, VersionForm, reason_field, word_choices
from .submissions import OnceForm


def _goes():
    return forms.ChoiceField(label="Where it goes", choices=word_choices(Disposition), widget=forms.RadioSelect)


class FitForm(OnceForm):
    """`occupant`: the fitting that is in the position, or None; `holds` says which one the page showed."""

    segment = forms.CharField(
        label="Serial of the cable to fit",
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "off", "list": "spares", "autocapitalize": "characters"}),
    )
    move = forms.BooleanField(label="Move it: take it out there and fit it here", required=False)
    fitted_on = DayField(label="Fitted on")
    basis = forms.ChoiceField(
        label="How well that day is known", choices=word_choices(FittedBasis), initial=FittedBasis.KNOWN
    )
    reason = reason_field("Why the old one comes out")
    goes = _goes()
    holds = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, data=None, *, occupant, **kwargs):
        super().__init__(data, **kwargs)
        self.occupant = occupant
        # the segment that was typed, also when it is refused for being in place elsewhere
        self.named = None
        if occupant is None:
            del self.fields["reason"], self.fields["goes"]
        else:
            self.fields["goes"].label = f"Where {occupant.segment} goes"
            self.fields["reason"].label = f"Why {occupant.segment} is taken out"

    def clean_segment(self):
        serial = self.cleaned_data["segment"].strip()
        segment = segment_named(serial)
        if segment is None:
            raise ValidationError(f"There is no cable {serial} in the register. Look at the serial, or add it first.")
        self.named = segment
        return segment

    def clean(self):
        values = super().clean()
        if values.get("holds") != (self.occupant and self.occupant.pk):
            now = f"it now holds {self.occupant.segment}" if self.occupant else "it is empty now"
            raise ValidationError(f"Somebody else changed this position while you were typing: {now}. Look again.")
        return values

    @property
    def act_values(self):
        """The arguments of `fit_segment` beside mat and position."""
        values = self.cleaned_data
        out = self.occupant and TakenOut(self.occupant, values["reason"], values["goes"])
        return {name: values[name] for name in ("segment", "move", "fitted_on", "basis")} | {"out": out}


class TakeOutForm(VersionForm):
    removed_on = DayField(label="Out on")
    reason = reason_field("Why it comes out")
    goes = _goes()


class FittingCorrectionForm(CorrectionFields):
    fitted_on = DayField(label="Fitted on")
    fitted_basis = forms.ChoiceField(label="How well that day is known", choices=word_choices(FittedBasis))
    removed_on = DayField(label="Out on", required=False, help_text="Empty: still in place.")
    removal_reason = reason_field("Why it came out", required=False)

    field_order = ["fitted_on", "fitted_basis", "removed_on", "removal_reason", "reason"]

    def clean(self):
        values = super().clean()
        if values.get("removal_reason") and not values.get("removed_on") and "removed_on" not in self.errors:
            raise ValidationError({"removed_on": "There is a reason but no day: write both, or neither."})
        return values
