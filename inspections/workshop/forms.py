"""Raising a work order, and giving it to somebody for a day."""

from django import forms

from fleet.forms.fields import DayField
from fleet.forms.record_forms import StateFilter, VersionForm
from fleet.forms.submissions import OnceForm
from fleet.limits import DAY_AHEAD
from fleet.models import CableSegment, Depot, Mat
from fleet.validators import check_line

from ..choices import OrderState
from .selectors import CLOSED, TO_DO

STATES = (TO_DO, OrderState.OUT_OF_DATE.value, OrderState.SIGNED.value, CLOSED)


def _by_code(model, field, refusal, kind=forms.ModelMultipleChoiceField):
    return kind(model.objects.all(), to_field_name=field, required=False, error_messages={"invalid_choice": refusal})


class SerialsOfLines(forms.ModelMultipleChoiceField):
    """Lines of the due list by mat, each the serials of its cables with slashes between; gives the cables."""

    def clean(self, value):
        return super().clean([serial for line in value or () for serial in str(line).split("/")])


class GivenFields(forms.Form):
    """Who does the work, and when; either may stay open."""

    given_to = forms.CharField(
        label="Who does it",
        max_length=100,
        required=False,
        validators=[check_line],
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    planned_on = DayField(label="On which day", required=False, limit=DAY_AHEAD)


class DayAskedForm(forms.Form):
    """The day in an address, as the calendar writes it there; one that cannot be read is none."""

    planned_on = DayField(required=False, limit=DAY_AHEAD)

    @property
    def initial_day(self):
        day = self.is_valid() and self.cleaned_data["planned_on"]
        return {"planned_on": day} if day else {}


class GiveForm(GivenFields, VersionForm):
    pass


class RaiseForm(GivenFields, OnceForm):
    """Chosen cables, by serial; with `whole_mats` also all else that is due in their mats, or every position.

    `lines`: the cables of whole lines of the due list, taken up into `segments`. `mats`: those that the page shows,
    whether or not a cable of them is chosen.
    """

    segments = _by_code(CableSegment, "serial", "There is no cable %(value)s.")
    lines = _by_code(CableSegment, "serial", "There is no cable %(value)s.", SerialsOfLines)
    mats = _by_code(Mat, "number", "There is no mat %(value)s.")
    whole_mats = forms.BooleanField(required=False)
    every_position = forms.BooleanField(label="Every position of each mat", required=False)

    def clean(self):
        values = super().clean()
        values["segments"] = self._all_chosen(values)
        whole = values.get("mats") and values.get("every_position")
        if not (values["segments"] or whole or self.errors.keys() & {"segments", "lines"}):
            self.add_error("segments", "Choose at least one cable.")
        return values

    @staticmethod
    def _all_chosen(values):
        none = CableSegment.objects.none()
        return values.get("segments", none) | values.pop("lines", none)


class AskForm(forms.Form):
    """What the address of the page that raises work orders names: mats with all that is due in them, or cables."""

    mat = _by_code(Mat, "number", "There is no mat %(value)s.")
    cable = _by_code(CableSegment, "serial", "There is no cable %(value)s.")


class OrderFilter(StateFilter):
    state = forms.ChoiceField(required=False, choices=[("", "all"), *((state, state) for state in STATES)])
    depot = forms.ModelChoiceField(Depot.objects.none(), required=False, to_field_name="name", empty_label="all depots")

    def __init__(self, data, *, depots):
        super().__init__(data)
        self.fields["depot"].queryset = depots
        if not depots:
            del self.fields["depot"]
