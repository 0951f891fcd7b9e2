"""What the forms of the register share: correcting, withdrawing, the filters above lists, refusals at their fields."""

import re

from django import forms

from ..selectors.mats import ALL, IN_USE, WITHDRAWN
from ..validators import CODE_LENGTH, REASON_LENGTH, check_code
from .fields import DayField

# a fingerprint of `services.confirmation`; an act asks two or three things, one after the other
_ANSWER = re.compile(r"\b[0-9a-f]{16}\b")
MOST_ANSWERS = 10


def code_field(label):
    return forms.CharField(
        label=label,
        max_length=CODE_LENGTH,
        validators=[check_code],
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}),
    )


def word_choices(choices):
    """The words themselves, as they stand in files and on pages."""
    return [(word, word) for word in choices.values]


def reason_field(label, *, required=True, **attrs):
    return forms.CharField(label=label, max_length=REASON_LENGTH, required=required, widget=forms.TextInput(attrs))


class VersionForm(forms.Form):
    """An act on a row; it carries the version of the row that the person looked at."""

    version = forms.IntegerField(widget=forms.HiddenInput)

    def renew_version(self, row):
        """After a refusal for somebody else's change: the page that answers shows the row as it is now."""
        self.data = self.data.copy()
        self.data["version"] = row.version


class CorrectionFields(VersionForm):
    reason = reason_field("Why it is corrected", required=False)


class ReasonForm(VersionForm):
    """Why something is done to a row: back in use, deleted, doubted. The only field of its page."""

    reason = reason_field("Why", autofocus=True)


class WithdrawForm(VersionForm):
    withdrawn_on = DayField(label="From which day")
    reason = reason_field("Why")


class StateFilter(forms.Form):
    state = forms.ChoiceField(required=False, choices=[("", IN_USE), (WITHDRAWN, WITHDRAWN), (ALL, ALL)])

    def chosen(self):
        """What the list is asked for; a field that cannot be read is named on the page and narrows nothing."""
        self.is_valid()
        return {name: value for name, value in self.cleaned_data.items() if value not in (None, "")}

    @property
    def in_short(self):
        """What is chosen, for the folded filters on the phone."""
        return [self[name].value() for name in self.fields if self[name].value()]


def values_of(row, form_class):
    """The values of a row that a form of this class begins with."""
    return {name: getattr(row, name) for name in form_class.base_fields if hasattr(row, name) and name != "reason"}


def ask(form, asked, confirmed):
    """Show above the form what is asked; its one tick answers this too, beside all that was confirmed before."""
    form.refused = asked
    form.answers = " ".join([*_ANSWER.findall(confirmed)[-MOST_ANSWERS:], asked.fingerprint])


def add_refusal(form, error):
    """Each sentence at its field where the form shows it, else above the form; `form.refused` is the error itself."""
    form.refused = error
    if not hasattr(error, "error_dict"):
        form.add_error(None, error)
        return
    shown = {field.name for field in form.visible_fields()}
    for name, errors in error.error_dict.items():
        form.add_error(name if name in shown else None, errors)
