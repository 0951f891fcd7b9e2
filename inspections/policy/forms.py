"""The policy on one page: a field for each value of the pool, of each design and of each depot."""

from decimal import Decimal, InvalidOperation

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.fields import NumberField
from fleet.parsing.whole_numbers import read_whole
from fleet.validators import REASON_LENGTH

from ..validators import check_setting
from .selectors import WORDS, is_share
from .services import PolicyChange


class ShareField(forms.CharField):
    """A share typed in per cent, with or without the sign: `5` and `5 %` are 0.05."""

    widget = NumberField.widget

    def to_python(self, value):
        text = super().to_python(value).removesuffix("%").strip().replace(",", ".")
        if not text:
            return None
        try:
            return float(Decimal(text) / 100)
        except InvalidOperation:
            raise ValidationError("Write a percentage, such as 5.", code="invalid") from None

    def prepare_value(self, value):
        return f"{value * 100:.10g}" if isinstance(value, float) else value


class YesNoField(forms.TypedChoiceField):
    def __init__(self, words, left_open, **kwargs):
        choices = [("1", words[1]), ("0", words[0])]
        super().__init__(choices=[*left_open, *choices], coerce=float, empty_value=None, required=False, **kwargs)

    def prepare_value(self, value):
        return str(int(value)) if isinstance(value, float | int) else value


class PolicyForm(forms.Form):
    """`changes()` are what differs from what is in force; `seen` holds the rows and versions that the page showed."""

    reason = forms.CharField(label="Why", max_length=REASON_LENGTH, required=False)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, data=None, *, page):
        super().__init__(data)
        self.slots = {slot.key: slot for slot in page.slots}
        self.page = page
        for key, slot in self.slots.items():
            self.fields[key] = _field(slot)
        self.initial["seen"] = ";".join(
            f"{key}={slot.row.pk}.{slot.row.version}" for key, slot in self.slots.items() if slot.row
        )

    def clean(self):
        for key, slot in self.slots.items():
            value = self.cleaned_data.get(key)
            if value is not None:
                self._check_range(key, slot.setting, value)
        if not self.errors and not self.changes():
            raise ValidationError("Nothing was changed.", code="unchanged")

    @property
    def act_values(self):
        return {"changes": self.changes(), "reason": self.cleaned_data["reason"]}

    def renew_version(self, row):
        """After a refusal for somebody else's change, which names each value with what it is now."""
        self.data = self.data.copy()
        self.data["seen"] = self.initial["seen"]

    def changes(self):
        seen = dict(part.split("=", 1) for part in self.cleaned_data["seen"].split(";") if "=" in part)
        return [
            PolicyChange(slot.setting.name, value, slot.design, slot.depot, *_seen(seen.get(key, "")))
            for key, slot in self.slots.items()
            if _differs(slot, value := self.cleaned_data.get(key))
        ]

    @property
    def pool_fields(self):
        return [(slot, self[slot.key]) for slot in self.page.pool]

    @property
    def design_rows(self):
        return [(design, [(slot, self[slot.key]) for slot in slots]) for design, slots in self.page.designs]

    @property
    def depot_rows(self):
        return [(depot, [(slot, self[slot.key]) for slot in slots]) for depot, slots in self.page.depots]

    @property
    def wrong_fields(self):
        return [self[name] for name in self.fields if name in self.errors]

    def _check_range(self, key, setting, value):
        try:
            check_setting(setting.name, value)
        except ValidationError as error:
            in_per_cent = f"Write {setting.lowest * 100:g} to {setting.highest * 100:.10g} %."
            self.add_error(key, in_per_cent if is_share(setting) else error)


def _field(slot):
    setting = slot.setting
    owner = slot.design or slot.depot
    label = f"{setting.label}, {owner}" if owner else setting.label
    initial = float(slot.row.value) if slot.row else float(slot.in_force) if slot.of_pool else None
    if setting.yes_no:
        words = WORDS.get(setting.name, ("no", "yes"))
        return YesNoField(
            words, [] if slot.of_pool else [("", f"as the pool ({slot.shown})")], label=label, initial=initial
        )
    field = (ShareField if is_share(setting) else NumberField)(label=label, initial=initial, required=False)
    field.widget.attrs |= {"class": "figure-field", "placeholder": slot.default if slot.of_pool else "as the pool"}
    return field


def _differs(slot, value):
    """For the pool, typing what stands anyway changes nothing; elsewhere it is a value of its own."""
    if value is None:
        return slot.row is not None
    stands = slot.row.value if slot.row else slot.in_force if slot.of_pool else None
    return value != stands


def _seen(text):
    """(version, row) that the page showed; (0, None): none was set."""
    row, _, version = text.partition(".")
    row, version = read_whole(row), read_whole(version)
    return (version, row) if row is not None and version is not None else (0, None)
