"""The way back of a loan: one number for all its mats on the first page, one for each on its own page."""

from django import forms

from ..choices import UsageBasis
from .events import LARGEST_COUNT, words_of
from .fields import DayField, NumberField


class CountField(forms.IntegerField):
    def __init__(self, **kwargs):
        super().__init__(min_value=1, max_value=LARGEST_COUNT, widget=NumberField.widget, **kwargs)


class LoanBackForm(forms.Form):
    """`counts_for`, where it is sent, stands for every mat that has no number of its own."""

    back_on = DayField(label="Back on", required=False)
    basis = forms.ChoiceField(
        label="How this is known",
        choices=[word for word in words_of(UsageBasis) if word[0] != UsageBasis.COUNTED],
        initial=UsageBasis.ASSUMED,
    )
    counts_for = CountField(required=False, label="Each counted for, events")

    def __init__(self, data, *, event, counts, on):
        super().__init__(data, initial={"back_on": min(event.ends_on, on)})
        self.mats = {f"mat{mat.pk}": mat for mat in counts}
        for name, mat in self.mats.items():
            self.fields[name] = CountField(label=mat.number, initial=counts[mat], required=False)

    @property
    def of_mats(self):
        return [self[name] for name in self.mats]

    def clean(self):
        values = super().clean()
        for name in self.mats:
            if name not in self.errors and "counts_for" not in self.errors and not self._count(values, name):
                self.add_error(name, "Write how many events it went to; 1 where it went once.")
        return values

    @property
    def counts(self):
        return {mat: self._count(self.cleaned_data, name) for name, mat in self.mats.items()}

    def _count(self, values, name):
        return values.get(name) or values.get("counts_for")
