"""Input fields that take what people write: decimal commas, dates, lists of numbers.

Each takes a row of `fleet.limits`: the field refuses what is absurd, `asking` asks about what is unusual.
"""

import math
import re

from django import forms
from django.core.exceptions import ValidationError

from ..limits import USUAL_FROM_YEAR, year_of_two_digits
from ..parsing.approximate_dates import read_approximate_date


class DayInput(forms.DateInput):
    """The browser's own date picker; it wants and sends ISO dates."""

    input_type = "date"

    def __init__(self, **kwargs):
        super().__init__(format="%Y-%m-%d", **kwargs)


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
    """A day, a month or a year as people write it; gives an ApproximateDate or None; the form says what None means."""

    def __init__(self, **kwargs):
        super().__init__(max_length=40, widget=forms.TextInput(attrs={"autocomplete": "off"}), **kwargs)

    def clean(self, value):
        text = self.to_python(value)
        self.run_validators(text)
        try:
            return read_approximate_date(text) if text else None
        except ValueError:
            sentence = f"“{text}” is not a day, month or year since {USUAL_FROM_YEAR}"
            examples = "write 12 March 2024, March 2024, or 2024"
            raise ValidationError(f"{sentence}: {examples}.", code="approximate_date") from None


class NumberField(forms.FloatField):
    """A number typed with a point or a comma; shown with a point, without the browser's spin buttons."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
    default_error_messages = {"invalid": "Write a number, such as 1.5."}

    def __init__(self, *, limit=None, **kwargs):
        self.limit = limit
        super().__init__(**_with_check(limit, kwargs))

    def to_python(self, value):
        text = str(value).strip() if value is not None else ""
        return super().to_python(text.replace(",", ".") if text.count(",") == 1 and "." not in text else text)

    def prepare_value(self, value):
        return f"{value:.12g}" if isinstance(value, float) else value


class CountField(forms.IntegerField):
    """A whole number, refused in the words of the other fields."""

    widget = NumberField.widget
    default_error_messages = {"invalid": "Write a whole number, such as 2."}

    def __init__(self, *, limit, **kwargs):
        self.limit = limit
        super().__init__(**_with_check(limit, kwargs))


class NumbersField(forms.CharField):
    """Numbers with blanks between: `0.5 1.0 1.5`, `0,5 1,0`, `0.5, 1.0`; gives a list of floats."""

    widget = forms.TextInput(attrs={"autocomplete": "off"})
    _NUMBER = re.compile(r"\d+(?:\.\d+)?|\.\d+")

    def to_python(self, value):
        words = re.split(r"[;\s]+|,\s+|,$", super().to_python(value or ""))
        return [self._number(word) for word in self._apart(words)]

    def _apart(self, words):
        """A comma between digits is a decimal comma, unless points mark the decimals."""
        points = any("." in word for word in words)
        for word in filter(None, words):
            yield from word.split(",") if points else [word.replace(",", ".", 1)]

    def _number(self, word):
        if not self._NUMBER.fullmatch(word) or not math.isfinite(float(word)):
            raise ValidationError(
                f"“{word}” is not a number: write them as 0.5 1.0 1.5, with spaces between.", code="numbers"
            )
        return float(word)

    def validate(self, value):
        if self.required and not value:
            raise ValidationError(self.error_messages["required"], code="required")

    def run_validators(self, value):
        """Those of a text do not fit; forms give their own."""
        for validator in self.checks:
            validator(value)

    def __init__(self, *, limit, checks=(), **kwargs):
        self.limit, self.checks = limit, (limit.check, *checks)
        super().__init__(**kwargs)

    def prepare_value(self, value):
        return " ".join(f"{number:.12g}" for number in value) if isinstance(value, list) else value


def _with_check(limit, kwargs):
    return kwargs | {"validators": [*kwargs.pop("validators", ()), limit.check]} if limit else kwargs
