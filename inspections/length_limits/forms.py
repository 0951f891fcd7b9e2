"""What the pages of limits by length are asked, and the form that puts them into the policy."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.record_forms import reason_field
from fleet.forms.submissions import OnceForm
from fleet.months import MONTHS_A_YEAR

from ..numeric.words import Clock
from .proposal_services import ALL, FIRST, LATER

WHICH = [(ALL, "all of them"), (FIRST, "only the shorter ones"), (LATER, "only the longer ones")]
# beyond what was watched, in months or events; our choice of steps
FURTHER = {
    Clock.YEARS: [("", "not at all"), ("3", "3 months"), ("6", "6 months"), ("12", "1 year")],
    Clock.EVENTS: [("", "not at all"), ("12", "12 events"), ("25", "25 events"), ("50", "50 events")],
}
OTHERS = "What would change is not what your page showed. Here it is as it is now: look, and send it again."


class AskedForm(forms.Form):
    """A wrong or missing choice is the first one: an address that somebody shortened still shows a page."""

    clock = forms.ChoiceField(required=False, label="Use counted in")
    design = forms.ChoiceField(required=False, label="Design")
    which = forms.ChoiceField(required=False, label="Which limits", choices=WHICH)
    further = forms.ChoiceField(required=False, label="Further than any was watched by")

    def __init__(self, data, *, own_clock, designs=()):
        super().__init__(data)
        clocks = sorted(Clock, key=lambda each: each != own_clock)
        self.fields["clock"].choices = [(each, each) for each in clocks]
        self.fields["design"].choices = [("", "all designs"), *((code, code) for code in designs)]
        self.fields["further"].choices = FURTHER[self.wear_clock]

    @property
    def wear_clock(self):
        return Clock(self.chosen("clock"))

    def chosen(self, name):
        words = [word for word, _ in self.fields[name].choices]
        return self.data[name] if self.data.get(name) in words else words[0]

    @property
    def asked(self):
        """As `proposed_of` takes it."""
        further = float(self.chosen("further") or 0)
        by_years = self.wear_clock == Clock.YEARS
        return {
            "design": self.chosen("design"),
            "which": self.chosen("which"),
            "further": further / MONTHS_A_YEAR if by_years else further,
        }


class UseForm(OnceForm):
    """`mark` stands for what the page showed; where something else is proposed by now, nothing is done."""

    mark = forms.CharField(max_length=16, widget=forms.HiddenInput)
    reason = reason_field("Why", required=False)

    def __init__(self, data=None, *, mark):
        super().__init__(data, initial={"mark": mark, "reason": "limits by length"})
        self.mark = mark

    def full_clean(self):
        """Which page was seen is no field that anybody sees: what is wrong with it stands above the form."""
        super().full_clean()
        if self._errors.pop("mark", None):
            self.add_error(None, ValidationError(OTHERS, code="stale"))

    def clean(self):
        if self.cleaned_data.get("mark", self.mark) != self.mark:
            raise ValidationError(OTHERS, code="stale")
        return self.cleaned_data

    @property
    def act_values(self):
        return {"reason": self.cleaned_data["reason"], "token": self.cleaned_data["token"]}

    def renew_version(self, row):
        self.data = self.data.copy()
        self.data["mark"] = self.mark
