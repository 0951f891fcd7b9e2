"""Forms of an event that comes back: repeat it, change the rest, end it early."""

from django import forms

from ..limits import DAYS_LONG, EVENT_DAY, WEEKS_APART
from ..parsing.mat_lists import notes_left_out, read_mat_list, why_not_known
from ..selectors.seen import going_mark, planned_mark
from ..services.series_following import WeekValues
from ..validators import NAME_LENGTH
from .fields import CountField, DayField
from .mat_picker import MatPicker
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
    reason = reason_field("Why it is changed", required=False)

    def __init__(self, data, *, event, mats_known, going, last_day, on):
        initial = {
            "name": event.name,
            "place": event.place,
            "weekday": event.starts_on.weekday(),
            "length_days": (event.ends_on - event.starts_on).days + 1,
        }
        super().__init__(data, initial=initial)
        ticked, pasted = (data.getlist("mats"), data.get("paste", "")) if data else (going, "")
        self.listed = read_mat_list(pasted, mats_known, event.starts_on, ticked=ticked)
        self.picker = MatPicker(mats_known, self.listed, day=event.starts_on, last_day=last_day, on=on)

    def clean(self):
        values = super().clean()
        if why := why_not_known(self.listed):
            self.add_error(None, why)
        if self.listed.withdrawn:
            self.add_error(None, f"Withdrawn: {', '.join(map(str, self.listed.withdrawn))}.")
        return values | {"mats": self.listed.mats}

    @property
    def asks(self):
        return notes_left_out(self.listed)

    @property
    def act_values(self):
        week = WeekValues(**{name: self.cleaned_data[name] for name in WeekValues.__dataclass_fields__})
        return {"values": week, "reason": self.cleaned_data["reason"], "version": self.cleaned_data["version"]}


class SeriesEndForm(VersionForm):
    last_day = DayField(label="Last day", limit=EVENT_DAY, help_text="Events that begin after it are called off.")
    reason = reason_field("Why it ends", required=False)
