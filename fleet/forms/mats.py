"""Forms of mats and of the filters above their list."""

from django import forms

from ..choices import AcquiredBasis, FittedBasis
from ..parsing.approximate_dates import fitted_in_words
from ..selectors.mats import OUT, SHOULD_BE_BACK
from ..services.new_cables import ComesWith
from .fields import ApproximateDateField
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
    acquired_on = ApproximateDateField(label="Acquired on", required=False, help_text=ApproximateDateField.EXAMPLES)

    def __init__(self, *args, designs, depots, on, **kwargs):
        super().__init__(*args, **kwargs)
        self.on = self.fields["acquired_on"].on = on
        self.fields["design"].queryset = designs
        self.fields["depot"].queryset = depots
        if not depots:
            del self.fields["depot"]

    @property
    def act_values(self):
        values = dict(self.cleaned_data)
        return values | self._acquired(values["acquired_on"])

    def _acquired(self, when):
        """The day that is stored, with how well it is known."""
        day, basis = when.acquired(self.on) if when else (None, AcquiredBasis.KNOWN)
        return {"acquired_on": day, "acquired_basis": basis}


class NewMatForm(MatForm):
    """A mat, and with it the cables that it comes with."""

    cables = forms.ChoiceField(label="Its cables", choices=WHICH_CABLES, widget=forms.RadioSelect, initial=NEW_ONES)
    since = ApproximateDateField(
        label="In it since",
        required=False,
        help_text=f"{ApproximateDateField.EXAMPLES} Empty: since it was acquired, else today.",
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["since"].on = self.on

    @property
    def act_values(self):
        values = super().act_values
        cables, since = values.pop("cables"), values.pop("since")
        day, basis = values["acquired_on"] or self.on, values["acquired_basis"]
        return values | {"comes_with": self._comes_with(cables, since, day, basis)}

    def _comes_with(self, cables, since, day, basis):
        """`day`, `basis`: those of the mat, or today."""
        if cables == LATER:
            return None
        if cables == CAME_WITH_IT:
            return ComesWith(since.not_later_than(self.on) if since else day, FittedBasis.NOT_LATER_THAN)
        return ComesWith(*(since.fitted(self.on) if since else (day, FittedBasis(basis))))


class MatCorrectionForm(MatForm, CorrectionFields):
    field_order = ["number", "design", "depot", "owner", "acquired_on", "reason"]

    def __init__(self, *args, mat, **kwargs):
        super().__init__(*args, **kwargs)
        self.stored = {"acquired_on": mat.acquired_on, "acquired_basis": mat.acquired_basis}
        self.initial["acquired_on"] = fitted_in_words(mat.acquired_on, mat.acquired_basis) if mat.acquired_on else ""

    def clean(self):
        """A day that stays as it stands is not read again: how roughly it is known may be on record no more."""
        values = super().clean()
        if "acquired_on" not in self.changed_data:
            self.errors.pop("acquired_on", None)
            values.setdefault("acquired_on", None)
        return values

    def _acquired(self, when):
        return super()._acquired(when) if "acquired_on" in self.changed_data else self.stored


class MatFilter(StateFilter):
    find = forms.CharField(required=False, label="Mat number has", max_length=60)
    depot = forms.ModelChoiceField(None, required=False, to_field_name="name", empty_label="all depots")
    design = forms.ModelChoiceField(None, required=False, to_field_name="code", empty_label="all designs")
    owner = forms.ChoiceField(required=False)
    where = forms.ChoiceField(
        required=False, choices=[("", "anywhere"), (OUT, "out at an event"), (SHOULD_BE_BACK, SHOULD_BE_BACK)]
    )

    field_order = ["find", "depot", "design", "owner", "where", "state"]

    def __init__(self, data, *, depots, designs, owners):
        super().__init__(data)
        self.fields["depot"].queryset = depots
        self.fields["design"].queryset = designs
        self.fields["owner"].choices = [("", "all owners"), *((owner, owner) for owner in owners)]
        if len(depots) < 2 and not self.data.get("depot"):
            del self.fields["depot"]
