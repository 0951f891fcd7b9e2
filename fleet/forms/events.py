"""Forms of an event, of one mat at an event, and of the filters above the list of events."""

from django import forms

from ..choices import UsageBasis, UsageState, Weather
from ..limits import COUNTS_FOR, DAY_PASSED, EVENT_DAY, FOLD_CYCLES, HOURS_OUT
from ..selectors.seen import planned_mark
from ..validators import CODE_LENGTH, NAME_LENGTH, check_code
from .fields import CountField, DayField, NumberField
from .record_forms import CorrectionFields, MarkForm, word_choices
from .submissions import OnceForm

# usual use is said on a mat's page, of whole months
SOURCES = [word for word in word_choices(UsageBasis) if word[0] != UsageBasis.USUAL]
WEATHER = [("", "not recorded"), *word_choices(Weather)]


class EventForm(forms.Form):
    """What is known of an event. No last day: it lasts one."""

    name = forms.CharField(max_length=NAME_LENGTH, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    starts_on = DayField(label="First day", limit=EVENT_DAY)
    ends_on = DayField(label="Last day", limit=EVENT_DAY, required=False, help_text="Empty: the same day.")
    place = forms.CharField(max_length=NAME_LENGTH, required=False)
    weather = forms.ChoiceField(choices=WEATHER, required=False)
    code = forms.CharField(max_length=CODE_LENGTH, required=False, validators=[check_code])

    def clean(self):
        values = super().clean()
        values["ends_on"] = values.get("ends_on") or values.get("starts_on")
        return values


class NewEventForm(OnceForm, EventForm):
    code = forms.CharField(
        max_length=CODE_LENGTH,
        required=False,
        validators=[check_code],
        help_text="Empty: the next free one of its year.",
    )


class EventCorrectionForm(EventForm, CorrectionFields):
    code = forms.CharField(max_length=CODE_LENGTH, validators=[check_code])

    field_order = [*EventForm.base_fields, "reason"]


class UsageValuesForm(forms.Form):
    """Hours, folds and what it counts for, of one mat or of all."""

    hours_out = NumberField(label="Hours out", required=False, limit=HOURS_OUT)
    fold_cycles = CountField(label="Fold cycles", required=False, limit=FOLD_CYCLES)
    counts_for = CountField(label="Number of events", limit=COUNTS_FOR, initial=1)
    basis = forms.ChoiceField(label="Source of the number", choices=SOURCES, initial=UsageBasis.COUNTED)


class UsageCorrectionForm(UsageValuesForm, CorrectionFields):
    state = forms.ChoiceField(choices=word_choices(UsageState))
    home_on = DayField(label="Came home on", limit=DAY_PASSED, required=False, help_text="Empty: nobody said so.")

    field_order = ["state", "hours_out", "fold_cycles", "counts_for", "basis", "home_on", "reason"]

    def look_at(self, row):
        super().look_at(row)
        if row.basis == UsageBasis.USUAL:
            self.fields["basis"].choices = [*SOURCES, (UsageBasis.USUAL.value, "usual use")]


class AnswerForm(MarkForm):
    """What became of all mats that are still planned for an event."""

    state = forms.CharField(required=False)
    version_of = staticmethod(planned_mark)


class EventFilterForm(forms.Form):
    year = forms.TypedChoiceField(required=False, coerce=int, empty_value=None)
    state = forms.ChoiceField(
        required=False,
        choices=[
            ("", "all"),
            ("waits", "to be confirmed"),
            ("planned", "planned"),
            ("went", "went"),
            ("called off", "called off"),
        ],
    )
    find = forms.CharField(required=False, label="Name, code or place", max_length=NAME_LENGTH)

    def __init__(self, data, years):
        super().__init__(data)
        self.fields["year"].choices = [("", "all"), *((year, year) for year in years)]
