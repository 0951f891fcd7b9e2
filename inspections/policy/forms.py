"""The policy on two kinds of pages: a field for each value of the pool, of designs and depots; and of positions."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.fields import NumberField
from fleet.limits import CABLE_LENGTH
from fleet.parsing.whole_numbers import read_whole
from fleet.validators import REASON_LENGTH

from ..choices import SETTINGS
from ..validators import check_setting
from .selectors import is_same, is_share
from .services import PolicyChange
from .value_forms import field_of, value_field


class PolicyForm(forms.Form):
    """`changes()` are what differs from what is in force; `seen` holds the rows and versions that the page showed."""

    reason = forms.CharField(label="Why", max_length=REASON_LENGTH, required=False)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, data=None, *, page):
        super().__init__(data)
        self.slots = {slot.key: slot for slot in page.slots}
        self.page = page
        for key, slot in self.slots.items():
            self.fields[key] = field_of(slot)
        for slot in page.listed:
            self.fields[slot.key].help_text = slot.setting.explained
        self.initial["seen"] = ";".join(
            f"{key}={slot.row.pk}.{slot.row.version}" for key, slot in self.slots.items() if slot.row
        )

    def filled_in(self, typed):
        """The form as if somebody had typed these values into the page, by field; of fields that it has not, none."""
        shown = {name: self[name].value() for name in self.fields}
        proposed = {name: value for name, value in typed.items() if name in self.slots}
        texts = {name: "" if value is None else str(value) for name, value in (shown | proposed).items()}
        return type(self)(texts, page=self.page)

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
            PolicyChange(
                slot.setting.name, value, slot.design, slot.depot, *_seen(seen.get(key, "")), position=slot.position
            )
            for key, slot in self.slots.items()
            if _differs(slot, value := self.cleaned_data.get(key))
        ]

    @property
    def listed_fields(self):
        return self._pairs(self.page.listed)

    @property
    def design_rows(self):
        return [(design, self._pairs(slots)) for design, slots in self.page.designs]

    @property
    def depot_rows(self):
        return [(depot, self._pairs(slots)) for depot, slots in self.page.depots]

    @property
    def wrong_fields(self):
        return [self[name] for name in self.fields if name in self.errors]

    def _pairs(self, slots):
        return [(slot, self[slot.key]) for slot in slots]

    def _check_range(self, key, setting, value):
        try:
            check_setting(setting.name, value)
        except ValidationError as error:
            in_per_cent = f"Write {setting.lowest * 100:g} to {setting.highest * 100:.10g} %."
            self.add_error(key, in_per_cent if is_share(setting) else error)


class DesignPolicyForm(PolicyForm):
    """The values of one design and of its positions."""

    @property
    def position_rows(self):
        return [(position, self._pairs(slots)) for position, slots in self.page.positions]


class LongerThanForm(forms.Form):
    """Limits for all positions that are longer; they are filled into the page, not saved."""

    longer_than_m = NumberField(label="Positions longer than", limit=CABLE_LENGTH, required=False)

    def __init__(self, data=None, *, page):
        super().__init__(data)
        self.positions = page.positions
        for setting in SETTINGS.values():
            if setting.per_position:
                self.fields[setting.name] = value_field(setting, label=setting.label)

    def clean(self):
        values = super().clean()
        if "longer_than_m" in self.errors:
            return values
        if values["longer_than_m"] is None:
            self.add_error("longer_than_m", "Write a length in m, such as 2.5.")
        elif not self._longer(values):
            longest = max((position.length_m for position, _ in self.positions), default=0)
            self.add_error("longer_than_m", f"No position is longer. The longest has {longest:g} m.")
        if not self.errors and not self._typed(values):
            raise ValidationError("Write a limit for these positions, or “no limit”.", code="no_limits")
        return values

    @property
    def typed(self):
        """{field of the page: text} of the longer positions; an empty limit leaves theirs as they are."""
        slots = [slot for _, slots in self._longer(self.cleaned_data) for slot in slots]
        names = self._typed(self.cleaned_data)
        return {slot.key: self[slot.setting.name].value() for slot in slots if slot.setting.name in names}

    def _longer(self, values):
        return [place for place in self.positions if place[0].length_m > values["longer_than_m"]]

    def _typed(self, values):
        return {name for name in values if name != "longer_than_m" and values[name] is not None}


def _differs(slot, value):
    """For the pool, typing what stands anyway changes nothing; elsewhere it is a value of its own."""
    if value is None:
        return slot.row is not None
    stands = slot.row.value if slot.row else slot.in_force if slot.of_pool else None
    return not is_same(slot.setting, value, stands)


def _seen(text):
    """(version, row) that the page showed; (0, None): none was set."""
    row, _, version = text.partition(".")
    row, version = read_whole(row), read_whole(version)
    return (version, row) if row is not None and version is not None else (0, None)
