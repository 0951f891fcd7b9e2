"""The four questions of a keeper without records: how wide, which mats, since when, how often.

One page holds several kinds of mat, and of each kind several groups that differ in since when. The fields of the first
kind and its first group have their plain names; those of others a prefix, as `kind2-width_m` and `kind2-group3-mats`.
"""

from django import forms
from django.core.exceptions import ValidationError

from ..choices import FittedBasis
from ..limits import CABLE_LENGTH, EVENTS_A_YEAR, MAT_WIDTH, POSITION
from ..parsing.mat_lists import Unread, read_new_numbers
from ..parsing.numbers import read_lengths
from ..parsing.spaced_lengths import estimated_positions, spaced_lengths
from ..services.start_here import MatGroup
from ..validators import CODE_LENGTH, check_code
from .fields import ApproximateDateField, CountField, NumberField, NumbersField, TimesAYearField
from .register import check_lengths

MOST_MATS = 1_000
CHANGED, NEW, SECOND_HAND, NOT_KNOWN = "changed", "new", "second hand", "not known"
SINCE_WHEN = [
    (CHANGED, "they were changed"),
    (NEW, "never: the mats were bought new"),
    (SECOND_HAND, "never: the mats were bought second-hand"),
    (NOT_KNOWN, "not known"),
]


class NewNumbersField(forms.CharField):
    """Numbers of new mats: `M-001 to M-008`, or a list; gives NewNumbers."""

    widget = forms.Textarea(attrs={"rows": 2, "spellcheck": "false", "autocapitalize": "characters"})

    def clean(self, value):
        try:
            read = read_new_numbers(super().clean(value))
        except Unread as unread:
            raise ValidationError(f"“{unread}” cannot be read: {unread.why}.", code="numbers") from unread
        numbers = read.numbers
        if not numbers:
            raise ValidationError(self.error_messages["required"], code="required")
        if len(numbers) > MOST_MATS:
            raise ValidationError(f"{len(numbers):,} mats: {MOST_MATS:,} at a time, or load them as files.")
        for number in numbers:
            self._check(number)
        return read

    def _check(self, number):
        if len(number) > CODE_LENGTH:
            raise ValidationError(f"“{number[:CODE_LENGTH]}…” is too long for a mat number.")
        try:
            check_code(number)
        except ValidationError as error:
            raise ValidationError(f"“{number}” is not a mat number. {error.message}") from error


class KindForm(forms.Form):
    """What mats of one kind have in common."""

    width_m = NumberField(label="Width of a mat in m", limit=MAT_WIDTH)
    cables = CountField(label="Cables in a mat", limit=POSITION)
    lengths_m = NumbersField(
        label="Their lengths in m",
        limit=CABLE_LENGTH,
        checks=[check_lengths],
        read=read_lengths,
        help_text="An estimate will do: the shortest and the longest, as 0.5 to 3.5, or all from the feed end.",
    )
    # the lengths as the app spelled them out: those that still stand so are estimates
    filled_in = NumbersField(limit=CABLE_LENGTH, required=False, widget=forms.HiddenInput)
    times_a_year = TimesAYearField(
        label="Times a year that a mat usually goes out",
        required=False,
        limit=EVENTS_A_YEAR,
        help_text="An estimate will do, as 28 or 25-30. Empty: not known. "
        "In a month of which you log events, the logged ones count in its place.",
    )

    def clean(self):
        values = super().clean()
        # what the page said it had filled in is no answer of the keeper: where it cannot be read it says nothing
        self.errors.pop("filled_in", None)
        lengths_m, count = values.get("lengths_m"), values.get("cables")
        values["all_given"] = bool(lengths_m) and len(lengths_m) == count
        if not lengths_m or not count or values["all_given"]:
            return values
        if len(lengths_m) == 2:
            values["lengths_m"] = values["filled_in"] = spaced_lengths(min(lengths_m), max(lengths_m), count)
        else:
            sentence = (
                f"{len(lengths_m)} lengths for {count} cables: write the shortest and the longest, or all {count}."
            )
            self.add_error("lengths_m", sentence)
        return values

    def only_of_lengths(self):
        """Whether the lengths can be spelled out; questions that nobody has answered yet are not held against them."""
        for name in set(self.errors) - {"cables", "lengths_m"}:
            del self.errors[name]
        return not self.errors

    @property
    def spelled_out(self):
        """What stands in the fields once the lengths are spelled out."""
        spelled = self.fields["lengths_m"].prepare_value(self.cleaned_data["lengths_m"])
        return {"lengths_m": spelled} | ({} if self.cleaned_data["all_given"] else {"filled_in": spelled})

    @property
    def times_said(self):
        """How often, as it was said: 25 to 30; None where it was not."""
        return self.fields["times_a_year"].said(self["times_a_year"].value())

    @property
    def build(self):
        values = self.cleaned_data
        return {
            "width_m": values["width_m"],
            "lengths_m": tuple(values["lengths_m"]),
            "estimated": estimated_positions(values["lengths_m"], values.get("filled_in") or []),
            "times_a_year": values["times_a_year"],
        }


class GroupForm(forms.Form):
    """Mats of one kind that have one history."""

    mats = NewNumbersField(label="Mat numbers", help_text="As M-001 to M-008, or a list from anywhere.")
    since = forms.ChoiceField(label="When were the cables last changed?", choices=SINCE_WHEN, widget=forms.RadioSelect)
    when = ApproximateDateField(
        label="When was that?",
        help_text=f"{ApproximateDateField.EXAMPLES} For cables never changed: when the mats were bought. "
        "Empty where it is not known.",
    )

    def __init__(self, data=None, *, on, **kwargs):
        super().__init__(data, **kwargs)
        self.on = self.fields["when"].on = on

    def clean(self):
        values = super().clean()
        when, since = values.get("when"), values.get("since")
        if since == NOT_KNOWN:
            self.errors.pop("when", None)
        elif "when" not in self.errors and when is None:
            self.add_error("when", "Write the day, the month or the year; or choose “not known” above.")
        return values

    @property
    def numbers(self):
        read = self.cleaned_data.get("mats")
        return read.numbers if read else ()

    @property
    def listed(self):
        """The NewNumbers that were read."""
        return self.cleaned_data["mats"]

    def group(self, build):
        """What was given, as a MatGroup."""
        fitted_on, basis = self._fitted()
        acquired = self._acquired()
        return MatGroup(**build, **acquired, numbers=self.numbers, fitted_on=fitted_on, basis=basis)

    def _fitted(self):
        """The cables of a second-hand mat have an unknown age; for the others today is the last possible day."""
        since, when = self.cleaned_data["since"], self.cleaned_data.get("when")
        if since == NOT_KNOWN:
            return self.on, FittedBasis.NOT_LATER_THAN
        if since == SECOND_HAND:
            return when.not_later_than(self.on), FittedBasis.NOT_LATER_THAN
        return when.fitted(self.on)

    def _acquired(self):
        if self.cleaned_data["since"] not in (NEW, SECOND_HAND):
            return {}
        day, basis = self.cleaned_data["when"].acquired(self.on)
        return {"acquired_on": day, "acquired_basis": basis}
