"""Log an event: which event, which mats, hours and folds, on one form that loses nothing typed."""

from dataclasses import replace
from functools import cached_property

from django import forms
from django.core.exceptions import ValidationError

from ..choices import UsageBasis, UsageState
from ..figures import short_day
from ..limits import COUNTS_FOR, FOLD_CYCLES, HOURS_OUT
from ..models import Event
from ..parsing.counts import counted
from ..parsing.mat_lists import notes_left_out, read_mat_list, why_not_known
from ..selectors.loans import LONGER_THAN_DAYS, lasts_long
from ..selectors.usage import next_free_code
from ..services.settling import UsageValues
from .events import SOURCES, EventForm, UsageValuesForm
from .fields import CountField, NumberField
from .mat_picker import MatPicker
from .series import MayRepeatFields
from .submissions import OnceForm

NEW = "new"
LOG = "log"


class EventLogForm(OnceForm, EventForm, UsageValuesForm, MayRepeatFields):
    """Choose or add the event; tick or paste mats; values for all, with exceptions per mat.

    Any button but the one that logs gives the form back as a draft: all that was typed, and no complaints.
    """

    only_planned = forms.BooleanField(required=False, label="Only planned so far")

    # what was stored, for who sent it; empty where the form was acted on before
    in_words = ""
    # loans and what is planned; left out for who logs only what took place
    PLANNING = ("only_planned", "until", "every_weeks", "counts_for", "basis")

    def __init__(self, sent, *, on, events, mats, event=None, plans=True):
        self.sent, self.on, self.mats_known, self.plans = sent, on, list(mats), plans
        self.offered = sent.get("offered", "") if sent else ""
        # what the page that was sent showed of its event, until it is looked at again
        self.seen = sent.get("seen", "") if sent else ""
        self.events = {each.code: each for each in events}
        self.act = sent.get("act", LOG) if sent else ""
        code = sent.get("event", "") if sent else getattr(event, "code", "" if events else NEW)
        self.event = self.events.get(code)
        self.adds_event = code == NEW
        if self.act == LOG:
            super().__init__(sent)
        else:
            super().__init__(initial={"starts_on": on} | (sent.dict() if sent else {}))
        if not plans:
            _leave_out(self, self.PLANNING)
        self.fields["code"].widget.attrs["placeholder"] = next_free_code(self.day.year)

    @cached_property
    def day(self):
        """The first day of the event as far as it is known; else today."""
        if self.event:
            return self.event.starts_on
        return (self.adds_event and self._day_typed("starts_on")) or self.on

    @property
    def last_day(self):
        """The last on which its mats go, that of a loan or of a series, as far as it is known."""
        ends_on = self.event.ends_on if self.event else self.adds_event and self._day_typed("ends_on")
        return max(filter(None, [self.day, ends_on, self._day_typed("until")]))

    def _day_typed(self, name):
        """None where nothing was typed, or no day."""
        try:
            return self.fields[name].clean(self[name].value()) if name in self.fields else None
        except ValidationError:
            return None

    @cached_property
    def listed(self):
        """What was ticked and pasted, as a MatList."""
        if not self.sent:
            return read_mat_list("", self.mats_known, self.day)
        return self._read(self.sent.getlist("mats"), self.sent.get("paste", ""))

    def renew_version(self, row):
        """After a refusal for somebody else's change, which says what there is now."""
        self.seen = ""

    def offer(self, numbers):
        """Tick these mats too; those ticked for an event chosen before are unticked.

        `offered` are those that nobody ticked but the page, so that what somebody ticked makes no way.
        """
        ticked = self.sent.getlist("mats") if self.sent else []
        offered = [number for number in self.offered.split("\n") if number in ticked]
        if self.act == "choose":
            ticked, offered = [number for number in ticked if number not in offered], []
        self.offered = "\n".join([*offered, *(number for number in numbers if number not in ticked)])
        self.listed = self._read([*ticked, *numbers], self.sent.get("paste", "") if self.sent else "")

    def _read(self, numbers, pasted):
        return read_mat_list(pasted, self.mats_known, self.day, ticked=numbers)

    @cached_property
    def picker(self):
        """The mats to tick, with those ticked so far; read after the ticks are settled."""
        since = min((event.starts_on for event in self.events.values()), default=self.day)
        return MatPicker(self.mats_known, self.listed, day=self.day, last_day=self.last_day, on=self.on, since=since)

    @cached_property
    def exceptions(self):
        """One small form for each chosen mat, once they were asked for; read after the ticks are settled."""
        if not self.sent or not (self.act == "differ" or self.sent.get("differ")):
            return []
        data = self.sent if self.sent.get("differ") else None
        return [ExceptionForm(data, mat=mat, plans=self.plans) for mat in self.listed.mats]

    @property
    def parts(self):
        return self.exceptions

    def clean(self):
        values = super().clean()
        if not self.adds_event:
            self._forget_the_other_event()
        if not self.event and not self.adds_event:
            self.add_error(None, "Choose the event, or add another one.")
        if self.adds_event and not self.plans:
            self._refuse_plans(values.get("starts_on"), values.get("ends_on"))
        if why := why_not_known(self.listed):
            self.add_error(None, why)
        if self.listed.withdrawn:
            gone = ", ".join(f"{mat} (on {short_day(mat.withdrawn_on)})" for mat in self.listed.withdrawn)
            self.add_error(None, f"Withdrawn before this event: {gone}. Leave them out of the list below.")
        if not self.listed.mats and not self.listed.excepting:
            self.add_error(None, "Tick the mats, or paste a list of their numbers.")
        if not all(exception.is_valid() for exception in self.exceptions):
            self.add_error(None, "Check the values of the mats below.")
        return values

    @property
    def asks(self):
        """Notes in the list of mats count for nothing: who wrote them may have meant more."""
        return notes_left_out(self.listed)

    @property
    def unusual(self):
        """Something in the folded part was filled in, so it is shown open."""
        sent = self.sent or {}
        basis = sent.get("basis", UsageBasis.COUNTED)
        return bool(sent.get("only_planned")) or sent.get("counts_for", "1") != "1" or basis != UsageBasis.COUNTED

    @property
    def repeats(self):
        """Something was typed as the day until which the event repeats, right or wrong."""
        return bool((self.sent or {}).get("until"))

    def _forget_the_other_event(self):
        """The fields of a new event, right or wrong, do not matter once an event of the list is chosen."""
        for name in EventForm.base_fields:
            self.errors.pop(name, None)
            self.cleaned_data.pop(name, None)

    def _refuse_plans(self, starts_on, ends_on):
        if ends_on and ends_on > self.on:
            self.add_error("ends_on", "It ends after today. Log it when it is over. A keeper plans what lies ahead.")
        elif starts_on and ends_on and lasts_long(Event(starts_on=starts_on, ends_on=ends_on)):
            self.add_error("ends_on", f"Longer than {LONGER_THAN_DAYS} days: that is a loan. A keeper logs loans.")

    @property
    def event_values(self):
        return {name: self.cleaned_data[name] for name in EventForm.base_fields}

    def usage(self, ends_on):
        """Mat -> UsageValues for an event that ends on that day: planned while it lies ahead."""
        names = [name for name in UsageValuesForm.base_fields if name in self.fields]
        for_all = UsageValues(
            state=UsageState.PLANNED if self._is_planned(ends_on) else UsageState.WENT,
            **{name: self.cleaned_data[name] for name in names},
        )
        differs = {exception.mat: exception for exception in self.exceptions}
        return {mat: differs[mat].values(for_all) if mat in differs else for_all for mat in self.listed.mats}

    def _is_planned(self, ends_on):
        return self.cleaned_data.get("only_planned") or ends_on > self.on

    def say_stored(self, ends_on, stored, weeks):
        """`in_words` for an event that ends on that day; `weeks`: of its series, 0 where there is none.

        `stored`: numbers of the mats of the event; those left out are none of them.
        """
        mats = sum(mat.number in stored for mat in self.listed.mats)
        act = "Planned" if self._is_planned(ends_on) else "Logged"
        times = f", {counted(weeks, 'time')} until {short_day(self.rule['until'])}" if weeks else ""
        self.in_words = f"{act}: {counted(mats, 'mat')}{times}."


def _leave_out(form, names):
    for name in names:
        form.fields.pop(name, None)


class ExceptionForm(forms.Form):
    """What differs for one mat; an empty field is as for the others."""

    hours_out = NumberField(label="Hours out", required=False, limit=HOURS_OUT)
    fold_cycles = CountField(label="Fold cycles", required=False, limit=FOLD_CYCLES)
    counts_for = CountField(label="Number of events", required=False, limit=COUNTS_FOR)
    basis = forms.ChoiceField(label="Source of the number", required=False, choices=[("", "as the others"), *SOURCES])
    called_off = forms.BooleanField(required=False, label="Called off: stayed at home")

    def __init__(self, data, *, mat, plans):
        super().__init__(data, prefix=f"mat{mat.pk}", use_required_attribute=False)
        self.mat = mat
        if not plans:
            _leave_out(self, EventLogForm.PLANNING)

    def values(self, for_all):
        given = {name: value for name, value in self.cleaned_data.items() if value not in (None, "")}
        if given.pop("called_off", False):
            return UsageValues(UsageState.CALLED_OFF)
        return replace(for_all, **given)

    @property
    def about(self):
        return f"{self.mat.at_start}, "

    @property
    def differs(self):
        return self.is_bound and any(self.data.get(self.add_prefix(name)) for name in self.fields)
