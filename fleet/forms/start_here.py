"""The four questions of a keeper without records: how wide, which mats, since when, how often."""

from django import forms
from django.core.exceptions import ValidationError

from ..choices import FittedBasis
from ..limits import CABLE_LENGTH, EVENTS_A_YEAR, MAT_WIDTH, POSITION
from ..parsing.mat_lists import Unread, read_new_numbers
from ..parsing.numbers import read_lengths
from ..services.start_here import MatGroup
from ..validators import CODE_LENGTH, check_code
from .fields import ApproximateDateField, CountField, NumberField, NumbersField, TimesAYearField
from .register import check_lengths
from .submissions import OnceForm

MOST_MATS = 1_000
MOST_CABLES = 20_000
CHANGED, NEW, SECOND_HAND, NOT_KNOWN = "changed", "new", "second hand", "not known"
SINCE_WHEN = [
    (CHANGED, "they were changed"),
    (NEW, "never: the mats were bought new"),
    (SECOND_HAND, "never: the mats were bought second-hand"),
    (NOT_KNOWN, "not known"),
]


class NewNumbersField(forms.CharField):
    """Numbers of new mats: `M-001 to M-008`, or a list; gives a tuple of numbers."""

    widget = forms.Textarea(attrs={"rows": 2, "spellcheck": "false", "autocapitalize": "characters"})

    def clean(self, value):
        try:
            numbers = read_new_numbers(super().clean(value)).numbers
        except Unread as unread:
            raise ValidationError(f"“{unread}” cannot be read: {unread.why}.", code="numbers") from unread
        if not numbers:
            raise ValidationError(self.error_messages["required"], code="required")
        if len(numbers) > MOST_MATS:
            raise ValidationError(f"{len(numbers):,} mats: {MOST_MATS:,} at a time, or load them as files.")
        for number in numbers:
            self._check(number)
        return numbers

    def _check(self, number):
        if len(number) > CODE_LENGTH:
            raise ValidationError(f"“{number[:CODE_LENGTH]}…” is too long for a mat number.")
        try:
            check_code(number)
        except ValidationError as error:
            raise ValidationError(f"“{number}” is not a mat number. {error.message}") from error


def spaced_lengths(shortest_m, longest_m, count):
    """As many lengths, evenly from the shortest to the longest, to the centimetre."""
    step_m = (longest_m - shortest_m) / max(count - 1, 1)
    return [round(shortest_m + step * step_m, 2) for step in range(count)]


def estimated_positions(lengths_m, filled_in):
    """Positions between first and last whose length is the one that was filled in, unless both ends are alike."""
    if len(lengths_m) != len(filled_in) or filled_in[0] == filled_in[-1]:
        return frozenset()
    pairs = list(enumerate(zip(lengths_m, filled_in, strict=True), 1))
    return frozenset(position for position, (given, filled) in pairs[1:-1] if given == filled)


class MatGroupForm(OnceForm):
    width_m = NumberField(label="Width of a mat in m", limit=MAT_WIDTH)
    cables = CountField(label="Cables in a mat", limit=POSITION)
    lengths_m = NumbersField(
        label="Their lengths in m",
        limit=CABLE_LENGTH,
        checks=[check_lengths],
        read=read_lengths,
        help_text="An estimate will do: the shortest and the longest, as 0.5 3.5, or all from the feed end.",
    )
    # the lengths as the app spelled them out: those that still stand so are estimates
    filled_in = NumbersField(limit=CABLE_LENGTH, required=False, widget=forms.HiddenInput)
    mats = NewNumbersField(label="Mat numbers", help_text="As M-001 to M-008, or a list from anywhere.")
    since = forms.ChoiceField(label="When were the cables last changed?", choices=SINCE_WHEN, widget=forms.RadioSelect)
    when = ApproximateDateField(
        label="When was that?",
        help_text=f"{ApproximateDateField.EXAMPLES} For cables never changed: when the mats were bought. "
        "Empty where it is not known.",
    )
    times_a_year = TimesAYearField(
        label="Times a year that a mat usually goes out",
        required=False,
        limit=EVENTS_A_YEAR,
        help_text="An estimate will do, as 28 or 25-30. Empty: not known. "
        "In a month of which you log events, the logged ones count in its place.",
    )

    def __init__(self, data=None, *, on, **kwargs):
        super().__init__(data, **kwargs)
        self.on = self.fields["when"].on = on
        self.order_fields(["width_m", "cables", "lengths_m", "mats", "since", "when", "times_a_year"])

    def clean(self):
        values = super().clean()
        self._settle_lengths(values)
        self._settle_when(values)
        if len(values.get("mats", ())) * values.get("cables", 0) > MOST_CABLES:
            self.add_error("mats", f"More than {MOST_CABLES:,} cables at a time: load them as files.")
        return values

    def with_lengths(self):
        """The same form, not yet sent, with the lengths spelled out; as it is where they cannot be read."""
        self.is_valid()
        if {"cables", "lengths_m"} & set(self.errors):
            return self
        spelled = self.fields["lengths_m"].prepare_value(self.cleaned_data["lengths_m"])
        filled_in = {} if self.cleaned_data["all_given"] else {"filled_in": spelled}
        return type(self)(on=self.on, initial=self.data.dict() | {"lengths_m": spelled} | filled_in)

    def _settle_lengths(self, values):
        # what the page said it had filled in is no answer of the keeper: where it cannot be read it says nothing
        self.errors.pop("filled_in", None)
        lengths_m, count = values.get("lengths_m"), values.get("cables")
        values["all_given"] = bool(lengths_m) and len(lengths_m) == count
        if not lengths_m or not count or values["all_given"]:
            return
        if len(lengths_m) == 2:
            values["lengths_m"] = values["filled_in"] = spaced_lengths(min(lengths_m), max(lengths_m), count)
        else:
            sentence = (
                f"{len(lengths_m)} lengths for {count} cables: write the shortest and the longest, or all {count}."
            )
            self.add_error("lengths_m", sentence)

    def _settle_when(self, values):
        when, since = values.get("when"), values.get("since")
        if since == NOT_KNOWN:
            self.errors.pop("when", None)
        elif "when" in self.errors:
            return
        elif when is None:
            self.add_error("when", "Write the day, the month or the year; or choose “not known” above.")
        elif when.first > self.on:
            self.add_error("when", "That is in the future. Write a day that has passed.")

    @property
    def act_values(self):
        return {"group": self.group}

    @property
    def group(self):
        """What was given, as a MatGroup."""
        values = self.cleaned_data
        fitted_on, basis = self._fitted(values["since"], values.get("when"))
        bought = values["since"] in (NEW, SECOND_HAND) and values["when"].exact
        return MatGroup(
            width_m=values["width_m"],
            lengths_m=tuple(values["lengths_m"]),
            estimated=estimated_positions(values["lengths_m"], values.get("filled_in") or []),
            numbers=values["mats"],
            fitted_on=fitted_on,
            basis=basis,
            acquired_on=values["when"].first if bought else None,
            times_a_year=values["times_a_year"],
        )

    def _fitted(self, since, when):
        """The cables of a second-hand mat have an unknown age; for the others today is the last possible day."""
        if since == NOT_KNOWN:
            return self.on, FittedBasis.NOT_LATER_THAN
        if since == SECOND_HAND:
            return when.not_later_than(self.on), FittedBasis.NOT_LATER_THAN
        return when.fitted(self.on)
