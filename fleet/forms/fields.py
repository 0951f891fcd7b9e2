"""Input fields that take what people write: decimal commas, dates, lists of numbers.

Each takes a row of `fleet.limits`: the field refuses what is absurd, `asking` asks about what is unusual.
"""

import re

from django import forms
from django.core.exceptions import ValidationError

from ..limits import year_of_two_digits
from ..parsing.numbers import read_numbers, read_times_a_year
from ..parsing.rough_days import read_rough_day


class DayInput(forms.DateInput):
    """The browser's own date picker; it wants and sends ISO dates."""

    input_type = "date"

    def __init__(self, **kwargs):
        super().__init__(format="%Y-%m-%d", **kwargs)


class LongRadios(forms.RadioSelect):
    """Choices that are sentences, one below the other."""

    long = True


class DayField(forms.DateField):
    widget = DayInput
    default_error_messages = {"invalid": "Write a day that the calendar has, such as 2026-05-02."}
    _SHORT = re.compile(r"(\d{1,2}[./]\d{1,2}[./])(\d{2})")

    def __init__(self, *, limit=None, **kwargs):
        self.limit = limit
        kwargs.setdefault("input_formats", ["%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y"])
        super().__init__(**_with_check(limit, kwargs))

    def to_python(self, value):
        if isinstance(value, str) and (short := self._SHORT.fullmatch(value.strip())):
            meant = f"{short[1]}{year_of_two_digits(int(short[2]))}"
            raise ValidationError(f"“{short[0]}” has two digits for the year. Did you mean {meant}?", code="invalid")
        return super().to_python(value)


class ApproximateDateField(forms.CharField):
    """A day as people remember it; gives an ApproximateDate or None; the form says what None means.

    The form sets `on`, the day on which it is written: of *last year* it says which that was, and no day lies after it.
    """

    EXAMPLES = (
        "The day, or about: 12 March 2024, March 2024, spring 2023, end of 2022, 2022, or last year. "
        "Spring is March to May."
    )
    on = None

    def __init__(self, **kwargs):
        super().__init__(max_length=40, widget=forms.TextInput(attrs={"autocomplete": "off"}), **kwargs)

    def clean(self, value):
        text = self.to_python(value)
        self.run_validators(text)
        try:
            when = read_rough_day(text, self.on) if text else None
        except ValueError as unread:
            raise ValidationError(str(unread), code="approximate_date") from None
        if when and when.first > self.on:
            raise ValidationError("That is in the future. Write a day that has passed.")
        return when


def _with_point(value):
    """The text of a number with a point where one comma stood."""
    text = str(value).strip() if value is not None else ""
    return text.replace(",", ".") if text.count(",") == 1 and "." not in text else text


class NumberField(forms.FloatField):
    """A number typed with a point or a comma; shown with a point, without the browser's spin buttons."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
    default_error_messages = {"invalid": "Write a number, such as 1.5."}

    def __init__(self, *, limit=None, **kwargs):
        self.limit = limit
        super().__init__(**_with_check(limit, kwargs))

    def to_python(self, value):
        return super().to_python(_with_point(value))

    def prepare_value(self, value):
        return f"{value:.12g}" if isinstance(value, float) else value


class AmountField(forms.DecimalField):
    """An amount of money, with a point or a comma before its hundredths."""

    widget = NumberField.widget
    default_error_messages = {
        "invalid": "Write an amount, such as 12.50.",
        "max_decimal_places": "Write an amount with two decimals at most, such as 12.50.",
    }

    def __init__(self, *, limit=None, **kwargs):
        self.limit = limit
        super().__init__(**_with_check(limit, kwargs))

    def to_python(self, value):
        return super().to_python(_with_point(value))


class CountField(forms.IntegerField):
    """A whole number, refused in the words of the other fields."""

    widget = NumberField.widget
    default_error_messages = {"invalid": "Write a whole number, such as 2."}

    def __init__(self, *, limit, **kwargs):
        self.limit = limit
        super().__init__(**_with_check(limit, kwargs))


class TimesAYearField(CountField):
    """How often in a year, as `28` or `25-30`; gives the number that is stored, which is the middle."""

    def to_python(self, value):
        try:
            return super().to_python(value)
        except ValidationError:
            times = self.said(value)
            if times is None:
                raise ValidationError(
                    "Write a whole number, such as 2. A range will do: 25-30.", code="invalid"
                ) from None
            return times.middle

    @staticmethod
    def said(value):
        """The CountRange that was written; None where it is none."""
        try:
            return read_times_a_year(str(value))
        except ValueError:
            return None


class NumbersField(forms.CharField):
    """Numbers with blanks between: `0.5 1.0 1.5`, `0,5 1,0`, `0.5, 1.0`; gives a list of floats.

    `read`: what takes the text apart, and raises ValueError with the word that it cannot read.
    """

    widget = forms.TextInput(attrs={"autocomplete": "off"})

    def to_python(self, value):
        try:
            return self.read(super().to_python(value or ""))
        except ValueError as unread:
            sentence = f"“{unread}” is not a number: write them as 0.5 1.0 1.5, with spaces between."
            raise ValidationError(sentence, code="numbers") from None

    def validate(self, value):
        if self.required and not value:
            raise ValidationError(self.error_messages["required"], code="required")

    def run_validators(self, value):
        """Those of a text do not fit; forms give their own."""
        for validator in self.checks:
            validator(value)

    def __init__(self, *, limit, checks=(), read=read_numbers, **kwargs):
        self.limit, self.checks, self.read = limit, (limit.check, *checks), read
        super().__init__(**kwargs)

    def prepare_value(self, value):
        return " ".join(f"{number:.12g}" for number in value) if isinstance(value, list) else value


def _with_check(limit, kwargs):
    return kwargs | {"validators": [*kwargs.pop("validators", ()), limit.check]} if limit else kwargs
