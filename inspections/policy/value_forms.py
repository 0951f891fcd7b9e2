"""The fields of policy values: shares in per cent, times in years and months, limits that may be off."""

from decimal import Decimal, DecimalException

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.fields import NumberField
from fleet.months import MONTHS_A_YEAR
from fleet.parsing.durations import read_months

from .selectors import NO_LIMIT, WORDS, is_share, is_time, shown

OFF = 0.0
# ways to say that a limit is switched off
_OFF_WORDS = {NO_LIMIT, "nolimit", "no", "none", "off", "unlimited"}


class ShareField(forms.CharField):
    """A share typed in per cent, with or without the sign: `5` and `5 %` are 0.05."""

    widget = NumberField.widget

    def to_python(self, value):
        text = super().to_python(value).removesuffix("%").strip().replace(",", ".")
        if not text:
            return None
        try:
            return float(Decimal(text) / 100)
        except DecimalException:
            raise ValidationError("Write a percentage, such as 5.", code="invalid") from None

    def prepare_value(self, value):
        return f"{value * 100:.10g}" if isinstance(value, float) else value


class LimitField(NumberField):
    """A number, or `no limit`, which is kept as 0."""

    widget = forms.TextInput(attrs={"autocomplete": "off"})
    default_error_messages = {"invalid": "Write a whole number, such as 150, or “no limit”."}

    def to_python(self, value):
        number = OFF if says_off(value) else super().to_python(value)
        return OFF if number == 0 else number

    def prepare_value(self, value):
        return NO_LIMIT if value == OFF and isinstance(value, float) else super().prepare_value(value)


class TimeLimitField(forms.CharField):
    """A time in years and months, or `no limit`; given in years, whole months rounded down, `no limit` as 0."""

    widget = LimitField.widget

    def __init__(self, *, setting, **kwargs):
        self.setting = setting
        super().__init__(max_length=40, **kwargs)

    def to_python(self, value):
        text = super().to_python(value)
        if not text:
            return None
        if says_off(text):
            return OFF
        try:
            return read_months(text) / MONTHS_A_YEAR
        except ValueError:
            examples = "such as 2 years 6 months, 18 months, or “no limit”"
            raise ValidationError(f"Write years and months, {examples}.", code="invalid") from None

    def run_validators(self, value):
        """Those of a text do not fit; the form checks the range."""

    def prepare_value(self, value):
        return shown(self.setting, value) if isinstance(value, float) else value


class YesNoField(forms.TypedChoiceField):
    def __init__(self, words, left_open, **kwargs):
        choices = [("1", words[1]), ("0", words[0])]
        super().__init__(choices=[*left_open, *choices], coerce=float, empty_value=None, required=False, **kwargs)

    def prepare_value(self, value):
        return str(int(value)) if isinstance(value, float | int) else value


def says_off(value):
    return " ".join(str(value or "").lower().split()) in _OFF_WORDS


def field_of(slot):
    """The field of a Slot, with the value that is set there; of the pool with the one that holds."""
    setting = slot.setting
    initial = _number(slot.row.value) if slot.row else _number(slot.in_force) if slot.of_pool else None
    if setting.yes_no:
        left_open = [] if slot.of_pool else [("", f"as {slot.wider} ({slot.shown})")]
        return YesNoField(WORDS.get(setting.name, ("no", "yes")), left_open, label=slot.label, initial=initial)
    field = value_field(setting, label=slot.label, initial=initial)
    field.widget.attrs |= {"placeholder": f"as {slot.wider}" if slot.wider else slot.default}
    return field


def _number(value):
    """None: not known."""
    return None if value is None else float(value)


def value_field(setting, **kwargs):
    """A field for a value of a setting that is no yes or no."""
    kwargs["required"] = False
    if is_time(setting):
        field = TimeLimitField(setting=setting, **kwargs)
    else:
        kind = ShareField if is_share(setting) else LimitField if setting.off_at_zero else NumberField
        field = kind(**kwargs)
    field.widget.attrs |= {"class": "figure-field"}
    return field
