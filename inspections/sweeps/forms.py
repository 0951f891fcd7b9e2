"""Forms of sweeps: the files that are dropped, and which cable, day and method each is of."""

from dataclasses import dataclass

from django import forms
from django.core.exceptions import ValidationError

from fleet.figures import short_day
from fleet.forms.fields import DayField, NumberField
from fleet.forms.sent_files import ManyFilesField
from fleet.forms.submissions import OnceForm
from fleet.limits import DAY_PASSED
from fleet.models import CableSegment
from fleet.validators import check_not_after

from ..bench.selectors import instruments_in_use
from ..choices import MeasurementReason
from ..limits import TEMPERATURE
from ..models import Instrument
from ..numeric.words import Method
from .selectors import cables_named, place_named
from .services import SweepToKeep
from .waiting_services import Waiting, content_of

BY_REFLECTION = [
    (Method.FAR_END_OPEN.value, "far end open"),
    (Method.FAR_END_SHORTED.value, "far end shorted"),
    (Method.ON_ELEMENT.value, "on its element"),
]
METHODS = [(Method.THROUGH.value, "through the cable"), *BY_REFLECTION]
CABLE_LENGTH = 80


class DropForm(forms.Form):
    files = ManyFilesField(
        label="Sweep files",
        accept=".s1p,.s2p,.csv,.txt,.ts",
        help_text="Touchstone (.s2p, .s1p) or CSV of frequency and dB. Choose one or many.",
    )


@dataclass(frozen=True)
class FileRow:
    """One file of the form with its fields."""

    waiting: Waiting
    cable: forms.BoundField
    day: forms.BoundField
    method: forms.BoundField
    leave: forms.BoundField
    # the cable that the field names on the day of the file, where its words are not the serial
    found: CableSegment | None = None

    @property
    def fields(self):
        return [self.cable, self.day, self.method, self.leave]


class MappingForm(OnceForm):
    """`waiting`: the files that were not refused. What is not certain is asked: a cable that the file's name does not
    name is empty, and so is how a cable of one port was connected."""

    measured_on = DayField(label="Measured on", limit=DAY_PASSED)
    method = forms.ChoiceField(
        label="How one-port cables were connected",
        required=False,
        choices=[("", "not said"), *BY_REFLECTION],
        help_text="Only for files that need it. Each file can say another.",
    )
    instrument = forms.ModelChoiceField(Instrument.objects.none(), required=False, empty_label="not named")
    temperature_c = NumberField(
        label="Temperature in °C", required=False, limit=TEMPERATURE, help_text="Empty: 20 °C is assumed."
    )
    measured_by = forms.CharField(label="Measured by", max_length=100, required=False)
    reason = forms.ChoiceField(label="Why", choices=MeasurementReason.choices)
    leave_unnamed = forms.BooleanField(required=False, label="Leave out all files without a cable")

    HEAD = ("measured_on", "method", "instrument", "temperature_c", "measured_by", "reason")

    def __init__(self, *args, waiting, drop, by, on, **kwargs):
        super().__init__(*args, **kwargs)
        self.waiting, self.drop, self.by, self.on = waiting, drop, by, on
        self.fields["instrument"].queryset = instruments_in_use(on)
        # of places in names: which cable is there today
        today = cables_named([(each.name, on) for each in waiting])
        self._today = {each.key: cable for each, cable in zip(waiting, today, strict=True)}
        self._cables = {}
        for each in waiting:
            self._add_fields(each, self._today[each.key])
        self._focus()

    def _add_fields(self, waiting, proposed):
        name = waiting.name
        for field, made in (
            ("cable", _cable_field(name, proposed)),
            ("day", DayField(required=False, limit=DAY_PASSED)),
            ("method", forms.ChoiceField(required=False, choices=_methods(waiting.look))),
            ("leave", forms.BooleanField(required=False)),
        ):
            made.widget.attrs["aria-label"] = f"{name}: {LABELS[field]}"
            made.label = f"{name}, {LABELS[field]}"
            self.fields[f"{field}-{waiting.key}"] = made

    @property
    def act_values(self):
        """What `keep_sweeps` takes."""
        head = {name: self.cleaned_data[name] for name in ("instrument", "temperature_c", "measured_by", "reason")}
        return {"files": [self._to_keep(each) for each in self._chosen()], **head}

    def clean_measured_on(self):
        check_not_after(self.cleaned_data["measured_on"], self.on, "day of measuring")
        return self.cleaned_data["measured_on"]

    def clean_instrument(self):
        instrument = self.cleaned_data["instrument"]
        if instrument and instrument.is_go_no_go:
            raise ValidationError("A go/no-go tester saves no sweeps. Choose the instrument that did.")
        return instrument

    def clean(self):
        chosen = self._chosen()
        if not chosen:
            raise ValidationError("Every file is left out. Keep at least one, or leave the page.", code="empty")
        keys, days = [each.key for each in chosen], [self._day(each) for each in chosen]
        typed = [self.cleaned_data.get(f"cable-{key}") for key in keys]
        self._cables = dict(zip(keys, cables_named(zip(typed, days, strict=True)), strict=True))
        self._then = dict(zip(keys, cables_named(zip([each.name for each in chosen], days, strict=True)), strict=True))
        self._typed_today = dict(zip(keys, cables_named([(text, self.on) for text in typed]), strict=True))
        for each in chosen:
            self._check_file(each)

    def _check_file(self, waiting):
        key = waiting.key
        typed = self.cleaned_data.get(f"cable-{key}")
        if self._cables[key] is None and f"cable-{key}" not in self.errors:
            self.add_error(f"cable-{key}", _no_cable(typed, self._day(waiting)))
        if self._day(waiting) > self.on:
            self.add_error(f"day-{key}", "The day of measuring lies after today.")
        if not self._method(waiting):
            said = "Say how the far end was. The file does not tell."
            self.add_error(f"method-{key}", said)

    def _chosen(self):
        return [each for each in self.waiting if not self._is_left_out(each.key)]

    def _is_left_out(self, key):
        cable, wrong = f"cable-{key}", f"cable-{key}" in self.errors
        unnamed = self.cleaned_data.get("leave_unnamed") and not self.cleaned_data.get(cable) and not wrong
        return self.cleaned_data.get(f"leave-{key}") or unnamed

    @property
    def without_cable(self):
        """How many files have no cable yet."""
        return sum(1 for each in self.waiting if not self[f"cable-{each.key}"].value())

    def _day(self, waiting):
        return self.cleaned_data.get(f"day-{waiting.key}") or self.cleaned_data.get("measured_on") or self.on

    def _method(self, waiting):
        own = self.cleaned_data.get(f"method-{waiting.key}")
        return own or waiting.look.method or ("" if waiting.look.has_transmission else self.cleaned_data.get("method"))

    def _to_keep(self, waiting):
        return SweepToKeep(
            segment=self._cables[waiting.key],
            measured_on=self._day(waiting),
            method=self._method(waiting),
            file_name=waiting.name,
            sha256=waiting.sha256,
            content=content_of(self.drop, waiting, by=self.by),
            doubt=self._doubt(waiting),
        )

    def _doubt(self, waiting):
        """Why the file may be of another cable than the one that is chosen: its name says so, or its place held
        another one on that day than it holds now."""
        cable, then, day = self._cables[waiting.key], self._then[waiting.key], self._day(waiting)
        now = self._typed_today[waiting.key]
        if then is not None and then != cable:
            return f"{waiting.name}: by its name it is {then} on {short_day(day)}, and {cable} is chosen."
        if now is not None and now != cable:
            return f"{waiting.name}: {cable} was in that place on {short_day(day)}, and {now} is there today."
        return ""

    @property
    def head_fields(self):
        needed = any(not each.look.method and not each.look.has_transmission for each in self.waiting)
        return [self[name] for name in self.HEAD if name != "method" or needed]

    @property
    def rows(self):
        return [
            FileRow(
                each, *(self[f"{field}-{each.key}"] for field in ("cable", "day", "method", "leave")), self._found(each)
            )
            for each in self.waiting
        ]

    def _found(self, waiting):
        cable = (self._cables if self.is_bound else self._today).get(waiting.key)
        return cable if cable and self[f"cable-{waiting.key}"].value() != cable.serial else None

    def full_clean(self):
        super().full_clean()
        self._focus()

    def _focus(self):
        """The first wrong field takes the focus, else the first cable that has to be said."""
        wrong = [name for name in self.fields if name in (self._errors or {})]
        open_cables = [
            name for name in self.fields if name.startswith("cable-") and not self.is_bound and not self[name].value()
        ]
        for name in (wrong or open_cables)[:1]:
            self.fields[name].widget.attrs["autofocus"] = True


LABELS = {
    "cable": "cable",
    "day": "day, where it is another",
    "method": "how it was connected",
    "leave": "leave out",
}


def _cable_field(name, proposed):
    attrs = {"list": "cables", "autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
    initial = proposed.serial if proposed else ""
    if initial.casefold() not in name.casefold():
        # the place, and not who is there today: another day may be chosen
        initial = place_named(name)
    return forms.CharField(
        required=False, max_length=CABLE_LENGTH, initial=initial, widget=forms.TextInput(attrs={**attrs, "size": "14"})
    )


def _methods(look):
    """Those that the file can be of; the first one is what holds where nothing else is said."""
    through, back = METHODS[:1] if look.has_transmission else [], BY_REFLECTION if look.has_reflection else []
    possible = [*through, *back]
    if look.method:
        return [("", "through the cable"), *[(word, label) for word, label in possible if word != look.method]]
    return [("", "say which" if look.has_transmission else "as said above"), *possible]


def _no_cable(typed, day):
    if not typed:
        return "Type the serial of the cable, or its mat and position, or leave the file out."
    return f"No cable is called so, and none was in such a place on {short_day(day)}. Type its serial, or M-017 pos 3."
