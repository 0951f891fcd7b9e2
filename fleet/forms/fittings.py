"""Forms of fitting a cable, of taking one out, and of correcting a fitting."""

from django import forms
from django.core.exceptions import ValidationError

from ..choices import Disposition, FittedBasis
from ..limits import DAY_PASSED
from ..selectors.segments import segment_named
from ..services.fittings import TakenOut
from .fields import DayField
from .record_forms import (
    LARGEST_VERSION,
    NO_VERSION,
    OTHER_ROW,
    CorrectionFields,
    VersionForm,
    reason_field,
    word_choices,
)
from .submissions import OnceForm


def _goes():
    return forms.ChoiceField(label="Where it goes", choices=word_choices(Disposition), widget=forms.RadioSelect)


class FitForm(OnceForm, VersionForm):
    """`occupant`: the fitting that is in the position, or None; `row` and `version` say which one the page showed.

    `moves` says in which fitting the page showed the cable that is to be moved.
    """

    version = forms.IntegerField(required=False, max_value=LARGEST_VERSION, widget=forms.HiddenInput)
    mat = forms.IntegerField(required=False, widget=forms.HiddenInput)

    segment = forms.CharField(
        label="Serial of the cable to fit",
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "off", "list": "spares", "autocapitalize": "characters"}),
    )
    move = forms.BooleanField(label="Move it: take it out there and fit it here", required=False)
    moves = forms.IntegerField(required=False, widget=forms.HiddenInput)
    fitted_on = DayField(label="Fitted on", limit=DAY_PASSED)
    basis = forms.ChoiceField(
        label="How well that day is known", choices=word_choices(FittedBasis), initial=FittedBasis.KNOWN
    )
    reason = reason_field("Why the old one comes out")
    goes = _goes()

    def __init__(self, data=None, *, mat, occupant, **kwargs):
        super().__init__(data, **kwargs)
        self.initial["mat"] = mat.pk
        self.of_mat, self.occupant = mat, occupant
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

    @property
    def moves_from(self):
        """The fitting that the named cable is in, or None."""
        return self.named and self.named.fittings.filter(removed_on=None).first()

    def clean(self):
        values = OnceForm.clean(self)
        if values.get("row") != (self.occupant and self.occupant.pk):
            now = f"it now holds {self.occupant.segment}" if self.occupant else "it is empty now"
            sentence = f"Somebody else changed this position while you were typing: {now}. Look again."
            raise ValidationError(sentence, code="stale")
        if self.occupant and values.get("version") is None:
            raise ValidationError(NO_VERSION, code="stale")
        if values.get("mat") not in (None, self.of_mat.pk):
            raise ValidationError(OTHER_ROW.format(row=self.of_mat), code="stale")
        return values

    def renew_version(self, row):
        super().renew_version(row)
        self.data["mat"] = self.of_mat.pk

    @property
    def act_values(self):
        """The arguments of `fit_segment` beside mat and position."""
        values = self.cleaned_data
        out = self.occupant and TakenOut(self.occupant, values["reason"], values["goes"], values["version"])
        return {name: values[name] for name in ("segment", "move", "moves", "fitted_on", "basis")} | {"out": out}


class TakeOutForm(VersionForm):
    row = forms.IntegerField(widget=forms.HiddenInput)
    removed_on = DayField(label="Out on", limit=DAY_PASSED)
    reason = reason_field("Why it comes out")
    goes = _goes()


class FittingCorrectionForm(CorrectionFields):
    fitted_on = DayField(label="Fitted on", limit=DAY_PASSED)
    fitted_basis = forms.ChoiceField(label="How well that day is known", choices=word_choices(FittedBasis))
    removed_on = DayField(label="Out on", limit=DAY_PASSED, required=False, help_text="Empty: still in place.")
    removal_reason = reason_field("Why it came out", required=False)

    field_order = ["fitted_on", "fitted_basis", "removed_on", "removal_reason", "reason"]

    def clean(self):
        values = super().clean()
        if values.get("removal_reason") and not values.get("removed_on") and "removed_on" not in self.errors:
            raise ValidationError({"removed_on": "There is a reason but no day: write both, or neither."})
        return values
