"""Forms of an event that comes back: repeat it, change the rest, end it early."""

from django import forms

from ..limits import DAYS_LONG, EVENT_DAY, WEEKS_APART
from ..parsing.mat_lists import read_mat_list
from ..selectors.seen import going_mark, planned_mark
from ..services.series_following import WeekValues
from ..validators import NAME_LENGTH
from .fields import CountField, DayField
from .record_forms import MarkForm, VersionForm, reason_field
from .submissions import OnceForm

WEEKDAYS = list(enumerate(["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]))


class RepeatFields(forms.Form):
    every_weeks = CountField(label="Every … weeks", limit=WEEKS_APART, initial=1)
    until = DayField(label="Until", limit=EVENT_DAY)

    field_order = ["every_weeks", "until"]


class RepeatForm(OnceForm, RepeatFields, MarkForm):
    """Repeat an event that is there."""

    version_of = staticmethod(going_mark)


class MayRepeatFields(RepeatFields):
    """Repeat the event that is logged; no last day: it does not come back."""

    every_weeks = CountField(
        label="Every … weeks",
        required=False,
        limit=WEEKS_APART,
        initial=1,
    )
    until = DayField(label="Repeat it until", limit=EVENT_DAY, required=False)

    @property
    def rule(self):
        """The rule of the series, or None."""
        until = self.cleaned_data.get("until")
        return until and {"until": until, "every_weeks": self.cleaned_data.get("every_weeks") or 1}


class FollowingForm(MarkForm):
    """What this and the later weeks of a series are to be."""

    version_of = staticmethod(planned_mark)

    name = forms.CharField(max_length=NAME_LENGTH, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    place = forms.CharField(max_length=NAME_LENGTH, required=False)
    weekday = forms.TypedChoiceField(label="Begins on", choices=WEEKDAYS, coerce=int)
    length_days = CountField(label="Lasts, days", limit=DAYS_LONG)
    mats = forms.CharField(
        label="Mats that go",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Put spaces, commas or new lines between them. “M-001 to M-008” means all eight.",
    )
    reason = reason_field("Why it is changed", required=False)

    def __init__(self, data, *, event, mats_known, going):
        initial = {
            "name": event.name,
            "place": event.place,
            "weekday": event.starts_on.weekday(),
            "length_days": (event.ends_on - event.starts_on).days + 1,
            "mats": ", ".join(going),
        }
        super().__init__(data, initial=initial)
        self.mats_known, self.day = mats_known, event.starts_on

    def clean_mats(self):
        listed = read_mat_list(self.cleaned_data["mats"], self.mats_known, self.day)
        if listed.unknown:
            raise forms.ValidationError(f"Not known: {', '.join(listed.unknown)}.")
        if listed.withdrawn:
            raise forms.ValidationError(f"Withdrawn: {', '.join(map(str, listed.withdrawn))}.")
        return listed.mats

    @property
    def act_values(self):
        week = WeekValues(**{name: self.cleaned_data[name] for name in WeekValues.__dataclass_fields__})
        return {"values": week, "reason": self.cleaned_data["reason"], "version": self.cleaned_data["version"]}


class SeriesEndForm(VersionForm):
    last_day = DayField(label="Last day", limit=EVENT_DAY, help_text="Events that begin after it are called off.")
    reason = reason_field("Why it ends", required=False)
