"""Which mat goes in place of one that is planned."""

from django import forms

from .record_forms import VersionForm
from .submissions import OnceForm


class InsteadForm(OnceForm, VersionForm):
    """Each mat is a button: for the event alone (`mat`), or for the later weeks of its series as well (`mat_later`)."""

    mat = forms.CharField(required=False)
    mat_later = forms.CharField(required=False)

    def __init__(self, data, *, offered):
        super().__init__(data)
        self.offered = {each.mat.number: each for each in offered}

    def clean(self):
        values = super().clean()
        chosen = self.offered.get(values.get("mat_later") or values.get("mat"))
        if chosen is None or (values.get("mat_later") and not chosen.later):
            raise forms.ValidationError("Choose one of the mats below.")
        return values

    @property
    def act_values(self):
        values = self.cleaned_data
        other = self.offered[values["mat_later"] or values["mat"]].mat
        return {"other": other, "later": bool(values["mat_later"]), "version": values["version"]}
