"""The way back of a loan: one number for all its mats on the first page, one for each on its own page."""

from django import forms

from ..choices import UsageBasis
from .events import LARGEST_COUNT
from .fields import CountField, DayField
from .record_forms import word_choices


class LoanBackForm(forms.Form):
    """`counts_for`, where it is sent, stands for every mat that has no number of its own."""

    back_on = DayField(label="Back on", required=False)
    basis = forms.ChoiceField(
        label="Source of the number",
        choices=[word for word in word_choices(UsageBasis) if word[0] != UsageBasis.COUNTED],
        initial=UsageBasis.ASSUMED,
    )
    counts_for = CountField(least=1, most=LARGEST_COUNT, required=False, label="Number of events, each")

    def __init__(self, data, *, event, counts, on):
        super().__init__(data, initial={"back_on": min(event.ends_on, on)})
        own = not (data and data.get("counts_for"))
        self.mats = {f"mat{mat.pk}": mat for mat in counts}
        for name, mat in self.mats.items():
            self.fields[name] = CountField(
                least=1, most=LARGEST_COUNT, label=mat.number, initial=counts[mat], required=own
            )

    @property
    def of_mats(self):
        return [self[name] for name in self.mats]

    @property
    def act_values(self):
        values = self.cleaned_data
        counts = {mat: values[name] or values["counts_for"] for name, mat in self.mats.items()}
        return {"counts": counts, "basis": values["basis"], "back_on": values["back_on"]}
