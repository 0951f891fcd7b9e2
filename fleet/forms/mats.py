"""Forms of mats and of the filters above their list."""

from django import forms
from django.core.exceptions import ValidationError

from ..choices import FittedBasis
from ..limits import DAY_PASSED
from ..services.new_cables import ComesWith
from .fields import ApproximateDateField, DayField
from .record_forms import CorrectionFields, StateFilter, code_field

NEW_ONES, CAME_WITH_IT, LATER = "new", "came with it", "later"
WHICH_CABLES = [
    (NEW_ONES, "new ones, in all its positions"),
    (CAME_WITH_IT, "those that it came with: how old they are is not known"),
    (LATER, "none yet: I fit them on its own page"),
]


class MatForm(forms.Form):
    number = code_field("Mat number")
    design = forms.ModelChoiceField(None, to_field_name="code", empty_label="choose")
    depot = forms.ModelChoiceField(None, to_field_name="name", required=False, empty_label="no depot")
    owner = forms.CharField(max_length=100, required=False)
    acquired_on = DayField(label="Acquired on", limit=DAY_PASSED, required=False)

    def __init__(self, *args, designs, depots, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["design"].queryset = designs
        self.fields["depot"].queryset = depots
        if not depots:
            del self.fields["depot"]


class NewMatForm(MatForm):
    """A mat, and with it the cables that it comes with."""

    cables = forms.ChoiceField(label="Its cables", choices=WHICH_CABLES, widget=forms.RadioSelect, initial=NEW_ONES)
    since = ApproximateDateField(
        label="In it since",
        required=False,
        help_text=f"{ApproximateDateField.EXAMPLES} Empty: since it was acquired, else today.",
    )

    def __init__(self, *args, on, **kwargs):
        super().__init__(*args, **kwargs)
        self.on = self.fields["since"].on = on

    def clean_since(self):
        since = self.cleaned_data["since"]
        if since and since.first > self.on:
            raise ValidationError("That is in the future. Write a day that has passed.")
        return since

    @property
    def act_values(self):
        values = dict(self.cleaned_data)
        cables, since = values.pop("cables"), values.pop("since")
        return values | {"comes_with": self._comes_with(cables, since, values["acquired_on"])}

    def _comes_with(self, cables, since, acquired_on):
        if cables == LATER:
            return None
        day = acquired_on or self.on
        if cables == CAME_WITH_IT:
            return ComesWith(since.not_later_than(self.on) if since else day, FittedBasis.NOT_LATER_THAN)
        return ComesWith(*(since.fitted(self.on) if since else (day, FittedBasis.KNOWN)))


class MatCorrectionForm(MatForm, CorrectionFields):
    field_order = ["number", "design", "depot", "owner", "acquired_on", "reason"]


class MatFilter(StateFilter):
    find = forms.CharField(required=False, label="Mat number has", max_length=60)
    depot = forms.ModelChoiceField(None, required=False, to_field_name="name", empty_label="all depots")
    design = forms.ModelChoiceField(None, required=False, to_field_name="code", empty_label="all designs")
    owner = forms.ChoiceField(required=False)

    field_order = ["find", "depot", "design", "owner", "state"]

    def __init__(self, data, *, depots, designs, owners):
        super().__init__(data)
        self.fields["depot"].queryset = depots
        self.fields["design"].queryset = designs
        self.fields["owner"].choices = [("", "all owners"), *((owner, owner) for owner in owners)]
        if len(depots) < 2 and not self.data.get("depot"):
            del self.fields["depot"]
