"""Correcting a length says how well it is known: what somebody corrects is known, unless they say otherwise."""

from django import forms

from ..choices import LengthBasis
from .record_forms import CorrectionFields, word_choices

ONCE_CORRECTED = ("", "estimated, known once the length is corrected")


class LengthCorrectionFields(CorrectionFields):
    """Of a row with `length_m`."""

    length_basis = forms.ChoiceField(
        label="How well the length is known", choices=word_choices(LengthBasis), required=False
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.was_estimated = self.initial.get("length_basis") == LengthBasis.ESTIMATED
        if self.was_estimated:
            self.fields["length_basis"].choices = [ONCE_CORRECTED, *word_choices(LengthBasis)]
            self.initial["length_basis"] = ""

    def clean_length_basis(self):
        stays = self.was_estimated and "length_m" not in self.changed_data
        return self.cleaned_data["length_basis"] or (LengthBasis.ESTIMATED if stays else LengthBasis.KNOWN)
