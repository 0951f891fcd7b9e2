"""The way back of a loan: one number for all its mats on the first page, one for each on its own page."""

from django import forms

from ..choices import UsageBasis
from ..limits import COUNTS_FOR, EVENT_DAY
from ..selectors.seen import planned_mark
from .events import SOURCES
from .fields import CountField, DayField
from .record_forms import MarkForm


class LoanBackForm(MarkForm):
    """`counts_for`, where it is sent, stands for every mat that has no number of its own."""

    back_on = DayField(label="Back on", limit=EVENT_DAY, required=False)
    basis = forms.ChoiceField(
        label="Source of the number",
        choices=[word for word in SOURCES if word[0] != UsageBasis.COUNTED],
        initial=UsageBasis.ASSUMED,
    )
    counts_for = CountField(limit=COUNTS_FOR, required=False, label="Number of events, each")
    version_of = staticmethod(planned_mark)

    def __init__(self, data, *, event, counts, on):
        self.mats = {f"mat{mat.pk}": mat for mat in counts}
        own = not (data and data.get("counts_for"))
        if not own:
            # where it is refused, the page shows it in the field of each mat
            data = dict.fromkeys(self.mats, data["counts_for"]) | data.dict()
        super().__init__(data, initial={"back_on": min(event.ends_on, on)})
        for name, mat in self.mats.items():
            self.fields[name] = CountField(limit=COUNTS_FOR, label=mat.at_start, initial=counts[mat], required=own)

    @property
    def of_mats(self):
        return [self[name] for name in self.mats]

    @property
    def act_values(self):
        values = self.cleaned_data
        counts = {mat: values[name] or values["counts_for"] for name, mat in self.mats.items()}
        return {"counts": counts} | {name: values[name] for name in ("basis", "back_on", "version")}
