"""The filters above the due list."""

import re
from datetime import timedelta

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.fields import CountField, DayField
from fleet.limits import Limit

from ..numeric.words import Cause, Status
from .selectors import EVERY_STATUS

_NUMBER = r"\d+(?:[.,]\d+)?"
_RANGE = re.compile(rf"({_NUMBER})(?:\s*(?:-|–|to)\s*({_NUMBER}))?")
BY_CABLE = "cable"
FAR_ENOUGH = Limit("number of days", "", 0, 0, 36_600, 36_600, whole=True)


class LengthsField(forms.CharField):
    """`3.5`, `0.6 1.1`, `1-2.5`: lengths and ranges of lengths in metres, blanks between; gives (from, to) pairs."""

    def clean(self, value):
        text = super().clean(value).lower().replace(";", " ")
        rest = _RANGE.sub(" ", text).replace("m", " ").strip()
        if rest:
            raise ValidationError(f"“{value}” is not a length: write 3.5, or 0.6 1.1, or 1-2.5.", code="lengths")
        pairs = [(_metres(low), _metres(high or low)) for low, high in _RANGE.findall(text)]
        return [(min(pair), max(pair)) for pair in pairs]


class DueFilterForm(forms.Form):
    depot = forms.ModelChoiceField(None, required=False, to_field_name="name", empty_label="all depots")
    owner = forms.ChoiceField(required=False)
    status = forms.ChoiceField(
        required=False,
        choices=[("", "all but ok"), *((status, status) for status in Status), (EVERY_STATUS, "all")],
    )
    cause = forms.ChoiceField(required=False, choices=[("", "any cause"), *((cause, cause) for cause in Cause)])
    lengths = LengthsField(required=False, label="Lengths, m", max_length=100)
    within = CountField(required=False, label="Due within, days", limit=FAR_ENOUGH)
    until = DayField(required=False, label="or by the day")
    # a line for the cables of a mat that are due alike, or for each cable
    by = forms.ChoiceField(required=False, choices=[("", "mat"), (BY_CABLE, "cable")], widget=forms.HiddenInput)

    def __init__(self, data, *, on, depots, owners):
        super().__init__(data)
        self.on = on
        self.fields["depot"].queryset = depots
        self.fields["owner"].choices = [("", "all owners"), *((owner, owner) for owner in owners)]
        self._leave_out_single("depot", len(depots))
        self._leave_out_single("owner", len(owners))

    def _leave_out_single(self, name, choices):
        """A filter with nothing to choose from only takes room, unless the address asks for it."""
        if choices < 2 and not self.data.get(name):
            del self.fields[name]

    def filters(self):
        """What `due_list` is asked for. A field that cannot be read is named on the page and narrows nothing."""
        self.is_valid()
        chosen = {name: value for name, value in self.cleaned_data.items() if value not in (None, "", [])}
        chosen.pop("by", None)
        within = chosen.pop("within", None)
        days = [self.on + timedelta(days=within)] if within is not None else []
        days += [chosen["until"]] if "until" in chosen else []
        return chosen | ({"until": min(days)} if days else {})

    @property
    def by_cable(self):
        self.is_valid()
        return self.cleaned_data.get("by") == BY_CABLE

    @property
    def in_short(self):
        """What is chosen, for the folded filters on the phone."""
        chosen = ((field.name, field.value()) for field in self.visible_fields())
        return [_IN_SHORT.get(name, "{}").format(value) for name, value in chosen if value]


_IN_SHORT = {"status": "status {}", "lengths": "{} m", "within": "within {} days", "until": "by {}"}


def _metres(text):
    return float(text.replace(",", "."))
