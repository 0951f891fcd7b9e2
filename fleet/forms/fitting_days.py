"""When were these cables fitted? One answer for whole mats."""

from django import forms
from django.core.exceptions import ValidationError

from ..choices import FittedBasis
from ..selectors.fitting_days import versions_of
from .fields import ApproximateDateField
from .record_forms import reason_field
from .submissions import OnceForm

THEN, BY_THEN = "then", "by then"
WHAT_IS_KNOWN = [
    (THEN, "they were fitted then"),
    (BY_THEN, "they were in the mat by then, but may be older"),
]


class FittingDayForm(OnceForm):
    """`guessed`: the GuessedMats that can be chosen; `seen` says which of their fittings the page showed."""

    mats = forms.MultipleChoiceField(
        error_messages={
            "required": "Tick the mats whose cables were fitted then.",
            "invalid_choice": "No cable of “%(value)s” waits for its day of fitting. Look at the ticks.",
        }
    )
    known = forms.ChoiceField(label="What is known", choices=WHAT_IS_KNOWN, widget=forms.RadioSelect, initial=THEN)
    when = ApproximateDateField(label="When was that?", help_text=ApproximateDateField.EXAMPLES)
    also_about = forms.BooleanField(label="Also correct cables whose day is known roughly (“about”)", required=False)
    reason = reason_field("How you know it", required=False)
    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, data=None, *, guessed, on, ticked=(), **kwargs):
        super().__init__(data, **kwargs)
        self.guessed, self.on = guessed, on
        self.fields["when"].on = on
        self.fields["mats"].choices = [(row.mat.number, str(row.mat)) for row in guessed]
        self.initial |= {"mats": list(ticked), "seen": self._shown}

    @property
    def ticked(self):
        return set(self["mats"].value() or ())

    def clean_when(self):
        when = self.cleaned_data["when"]
        if when is None:
            raise ValidationError("Write the day, the month or the year.")
        return when

    def clean(self):
        values = super().clean()
        if not self.errors and not self._chosen():
            raise ValidationError(
                "The cables of these mats are known roughly already. Tick below that they are to be corrected too."
            )
        return values

    def renew_version(self, row):
        """After a refusal for somebody else's change: the page that answers shows what there is now."""
        self.data = self.data.copy()
        self.data["seen"] = self._shown

    @property
    def act_values(self):
        values = self.cleaned_data
        fitted_on, basis = self._day_and_basis(values["when"], values["known"])
        chosen = {"fittings": self._chosen(), "seen": set(values["seen"].split())}
        return chosen | {"fitted_on": fitted_on, "basis": basis, "reason": values["reason"]}

    def _day_and_basis(self, when, known):
        if known == BY_THEN:
            return when.not_later_than(self.on), FittedBasis.NOT_LATER_THAN
        return when.fitted(self.on)

    def _chosen(self):
        """Fittings of the chosen mats whose day is not known, with the tick also those known roughly."""
        numbers, also_about = set(self.cleaned_data["mats"]), self.cleaned_data["also_about"]
        rows = [fitting for row in self.guessed if row.mat.number in numbers for fitting in row.fittings]
        return [row for row in rows if also_about or row.fitted_basis == FittedBasis.NOT_LATER_THAN]

    @property
    def _shown(self):
        return versions_of(fitting for row in self.guessed for fitting in row.fittings)
