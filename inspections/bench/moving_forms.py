"""These belong to another mat: which readings and which mat, then why."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.record_forms import reason_field
from fleet.forms.submissions import OnceForm
from fleet.models.fields import code_key
from fleet.selectors.seen import version_of
from fleet.validators import CODE_LENGTH

from ..templatetags.figures import counted, short_day

GONE = "These readings do not count any more, or never did. Choose others."


class ChooseReadingsForm(forms.Form):
    """`sets`: the ReadingSets of the mat; `mats`: all mats, of which the other one is named by its number."""

    readings = forms.ChoiceField(
        label="Which readings", error_messages={"required": "Choose the readings.", "invalid_choice": GONE}
    )
    to = forms.CharField(
        label="Number of the mat that they belong to",
        max_length=CODE_LENGTH,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )

    def __init__(self, data=None, *, mat, sets, mats):
        super().__init__(data)
        self.mat, self.mats = mat, mats
        self.by_key = {found.key: found for found in sets}
        self.fields["readings"].choices = [(found.key, _in_words(found)) for found in sets]

    def clean_readings(self):
        return self.by_key[self.cleaned_data["readings"]]

    def clean_to(self):
        number = self.cleaned_data["to"]
        other = self.mats.filter(number_key=code_key(number)).first()
        if other is None:
            raise ValidationError(f"There is no mat {number} in the register.")
        if other.pk == self.mat.pk:
            raise ValidationError("They are readings of this mat already. Write the number of the other mat.")
        return other


class MoveReadingsForm(OnceForm):
    """`seen` says which readings the page showed, and in which version."""

    reason = reason_field("Why they are moved")
    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, data=None, *, moves, other):
        super().__init__(data)
        self.shown = " ".join(version_of(move.reading) for move in moves)
        self.initial |= {"reason": f"belongs to {other}", "seen": self.shown}

    def renew_version(self, row):
        """After a refusal for somebody else's change: the page that answers shows what there is now."""
        self.data = self.data.copy()
        self.data["seen"] = self.shown

    @property
    def act_values(self):
        return {"reason": self.cleaned_data["reason"], "seen": set(self.cleaned_data["seen"].split())}


def _in_words(found):
    said = f"{short_day(found.day)}: {counted(len(found.readings), 'reading')}"
    return f"{said}, {found.instrument or 'instrument not recorded'}" if found.of_one else said
