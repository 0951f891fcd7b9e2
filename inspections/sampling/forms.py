"""The form that draws a sample."""

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.fields import CountField, NumberField
from fleet.forms.submissions import OnceForm
from fleet.models import Depot
from fleet.validators import check_line

from ..choices import SizeRule
from ..limits import CONFIDENCE_PERCENT, MATS_AGAIN, SAMPLE_SIZE, SEED, SHARE_PERCENT

RULES = [
    (SizeRule.FINITE, "as many as these mats need (hypergeometric)"),
    (SizeRule.SUCCESS_RUN, "as many as any number of mats needs (success run)"),
    (SizeRule.TYPED, "as many as I type"),
]
USUAL_SHARE_PERCENT, USUAL_CONFIDENCE_PERCENT = 10, 95


class DrawForm(OnceForm):
    depot = forms.ModelChoiceField(
        Depot.objects.none(), label="From the mats of", required=False, to_field_name="name", empty_label="all depots"
    )
    home_only = forms.BooleanField(
        label="Only mats that are at home today",
        required=False,
        help_text="What lies in the store is no fair picture of what goes out: leave this out where you can.",
    )
    rule = forms.ChoiceField(label="How many", choices=RULES, widget=forms.RadioSelect)
    share_percent = NumberField(
        label="To show that fewer than … % of the mats have a cable over the limit", required=False, limit=SHARE_PERCENT
    )
    confidence_percent = NumberField(label="How sure, in %", required=False, limit=CONFIDENCE_PERCENT)
    size = CountField(label="So many mats", required=False, limit=SAMPLE_SIZE, help_text="Only where you type it.")
    same = CountField(
        label="So many of the last sample again",
        required=False,
        limit=MATS_AGAIN,
        help_text="Empty: half. They show how a mat changes; the new ones show what nobody has looked at.",
    )
    seed = CountField(
        label="Seed",
        limit=SEED,
        help_text="Any whole number. With it anybody can draw the same mats again. This one was made by chance.",
    )
    note = forms.CharField(label="Note", max_length=500, required=False, validators=[check_line])

    def __init__(self, data=None, *, depots, seed, depot=None):
        initial = {
            "depot": depot and depot.name,
            "rule": SizeRule.FINITE,
            "share_percent": USUAL_SHARE_PERCENT,
            "confidence_percent": USUAL_CONFIDENCE_PERCENT,
            "seed": seed,
        }
        super().__init__(data, initial=initial)
        self.fields["depot"].queryset = depots
        self.first_depot = depot
        if not depots:
            del self.fields["depot"]

    def clean(self):
        values = super().clean()
        needed = ("size",) if values.get("rule") == SizeRule.TYPED else ("share_percent", "confidence_percent")
        for name in needed:
            if values.get(name) is None and name not in self.errors:
                self.add_error(name, ValidationError("Write a number.", code="required"))
        return values

    @property
    def act_values(self):
        """What was typed; before anything is sent, what the page begins with."""
        values = self.cleaned_data if self.is_bound else self.initial | {"depot": self.first_depot}
        typed = values["rule"] == SizeRule.TYPED
        return {
            "depot": values.get("depot"),
            "home_only": values.get("home_only", False),
            "rule": values["rule"],
            "share": None if typed else values["share_percent"] / 100,
            "confidence": None if typed else values["confidence_percent"] / 100,
            "size": values["size"] if typed else None,
            "same": values.get("same"),
            "seed": values["seed"],
            "note": values.get("note", ""),
        }
