"""What the forms of the register share: correcting, withdrawing, the filters above lists, refusals at their fields."""

import re

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from ..figures import short_time
from ..limits import DAY_PASSED
from ..selectors.mats import ALL, IN_USE, WITHDRAWN
from ..selectors.trail import changed_since
from ..validators import CODE_LENGTH, REASON_LENGTH, check_code
from .fields import DayField

# a fingerprint of `services.confirmation`; an act asks two or three things, one after the other
_ANSWER = re.compile(r"\b[0-9a-f]{16}\b")
MOST_ANSWERS = 10
LARGEST_VERSION = 2**31 - 2
NO_VERSION = "The page did not say what it showed, so nothing is stored. Look at it again, and send it again."
OTHER_ROW = "Somebody else changed this meanwhile. Here is {row} now, and your page showed another one. Look again."


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
    """An act on a row; it carries which row and which version of it the person looked at."""

    row = forms.IntegerField(required=False, widget=forms.HiddenInput)
    version = forms.IntegerField(max_value=LARGEST_VERSION, widget=forms.HiddenInput)
    # what is acted on; None until the frame names it
    shown = None

    def look_at(self, row):
        """The row that the page shows, as it is now."""
        self.shown = row
        self.initial |= {"row": row.pk, "version": self.version_of(row)}

    @staticmethod
    def version_of(row):
        return row.version

    def full_clean(self):
        """A form that does not say what it shows is refused above its fields, as no field shows it."""
        super().full_clean()
        silent = [self._errors.pop(name) for name in ("row", "version") if name in self._errors]
        if silent:
            self.add_error(None, ValidationError(NO_VERSION, code="stale"))

    def clean(self):
        values = super().clean()
        if self.shown is not None and self.cleaned_data.get("row") not in (None, self.shown.pk):
            raise ValidationError(OTHER_ROW.format(row=self.shown), code="stale")
        return values

    def renew_version(self, row):
        """After a refusal for somebody else's change: says what that was; the page that answers shows it as it is."""
        for sentence in self.changes_meanwhile(row):
            self.add_error(None, sentence)
        self.data = self.data.copy()
        self.data["row"] = row.pk if row else ""
        self.data["version"] = self.version_of(row) if row else ""

    def changes_meanwhile(self, row):
        """What the row says now and did not say on the page that was sent; nothing where that is not known."""
        change = row and changed_since(row, self.cleaned_data.get("version"))
        if not change or self.cleaned_data.get("row") not in (None, row.pk):
            return []
        who = f"{change.who}, " if change.who else ""
        now = "; ".join(_now_and_then(part) for part in change.changes) or "it says the same again as on your page"
        return [f"{who}{short_time(timezone.localtime(change.when))}: {now}."]


class MarkForm(VersionForm):
    """An act on an event and its mats: `version` stands for all of them as the page showed them."""

    version = forms.CharField(max_length=16, widget=forms.HiddenInput)

    def changes_meanwhile(self, row):
        """The refusal itself says what there is now."""
        return []


class CorrectionFields(VersionForm):
    reason = reason_field("Why it is corrected", required=False)


class ReasonForm(VersionForm):
    """Why something is done to a row: back in use, deleted, doubted. The only field of its page."""

    reason = reason_field("Why", autofocus=True)


class WithdrawForm(VersionForm):
    withdrawn_on = DayField(label="From which day", limit=DAY_PASSED)
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
    """Show above the form what is asked; each way out answers this too, beside all that was confirmed before."""
    form.refused, before = asked, _ANSWER.findall(confirmed)[-MOST_ANSWERS:]
    form.ways = [(" ".join([*before, fingerprint]), words) for fingerprint, words in asked.ways.values()]


def _now_and_then(change):
    now, then = (f"“{words}”" if words else "empty" for words in (change.new, change.old))
    return f"{change.field} is {now} now, it was {then}"


def add_refusal(form, error):
    """Each sentence at its field where the form shows it, else above the form; `form.refused` is the error itself."""
    form.refused = error
    if not hasattr(error, "error_dict"):
        form.add_error(None, error)
        return
    shown = {field.name for field in form.visible_fields()}
    for name, errors in error.error_dict.items():
        form.add_error(name if name in shown else None, errors)
