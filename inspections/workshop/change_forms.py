"""The form on which the cables of a mat are changed: what holds for all once, then a row for each position."""

from dataclasses import dataclass
from functools import cached_property

from django import forms
from django.core.exceptions import ValidationError

from fleet.choices import Disposition, EndTest, FittedBasis
from fleet.forms.fields import DayField, NumberField
from fleet.forms.record_forms import word_choices
from fleet.forms.submissions import OnceForm
from fleet.limits import DAY_PASSED, TORQUE
from fleet.models import CableSegment, Fault
from fleet.models.fields import code_key
from fleet.services.fittings import TakenOut
from fleet.validators import CODE_LENGTH, REASON_LENGTH, check_code, check_line, check_not_after

from ..bench.forms import LossField
from ..limits import FREQUENCY, TEMPERATURE
from ..models import Instrument
from ..templatetags.reason_text import why
from .change_selectors import ChangeRow
from .change_services import NO_DAY_TO_READ, Bench, Change, GoesIn, new_judge

NEW, NONE = "new", "none"
WAYS_OUT = "Clean and measure again, take another cable, or let a keeper keep it with a reason."
# what "all of these" may fill in, with its label there
COLUMNS = {
    "new": "Cable that goes in",
    "lot": "Lot of the new ones",
    "why": "Why the old ones come out",
    "torque": "Torque used, N·m",
    "end": "With a transponder",
    "remark": "Remark",
}


def _line(label, length, **attrs):
    widget = forms.TextInput(attrs={"autocomplete": "off", **attrs})
    return forms.CharField(label=label, required=False, max_length=length, validators=[check_line], widget=widget)


def _column_fields(of=""):
    """Fields of one row, or of all of these."""
    serial = {"list": "spares", "autocapitalize": "off", "spellcheck": "false", "placeholder": of and "as for all"}
    choices = [("", "not tested"), *word_choices(EndTest)]
    return {
        "new": _line(f"Cable that goes in{of}", CODE_LENGTH, **serial),
        "lot": _line(f"Lot of the new one{of}", 60),
        "why": _line(f"Why the old one comes out{of}", REASON_LENGTH),
        "torque": NumberField(label=f"Torque used, N·m{of}", required=False, limit=TORQUE),
        "end": forms.ChoiceField(label=f"End test with a transponder{of}", required=False, choices=choices),
        "remark": _line(f"Remark{of}", 500),
    }


@dataclass(frozen=True)
class FormRow:
    """A row of the page: its bound fields by kind, and what the new cable's reading says."""

    row: ChangeRow
    fields: dict
    judged: object
    shows_kept: bool

    @property
    def wrong(self):
        return any(field.errors for field in self.fields.values())

    @property
    def more_is_wrong(self):
        return any(self.fields[kind].errors for kind in ("lot", "why", "torque", "remark"))


class ChangeForm(OnceForm):
    """`rows`: the ChangeRows of the mat; a row is changed when it is ticked, or all are."""

    changed_on = DayField(label="Changed on", limit=DAY_PASSED)
    basis = forms.ChoiceField(
        label="How well that day is known", choices=[(word, word) for word in (FittedBasis.KNOWN, FittedBasis.ABOUT)]
    )
    measured_by = forms.CharField(label="Who did it", max_length=100, required=False, validators=[check_line])
    instrument = forms.ModelChoiceField(Instrument.objects.none(), required=False, empty_label="none, or not named")
    frequency_mhz = NumberField(label="Frequency in MHz", required=False, limit=FREQUENCY)
    temperature_c = NumberField(label="Temperature in °C", required=False, limit=TEMPERATURE)
    goes = forms.ChoiceField(label="Where the old ones go", choices=word_choices(Disposition), initial=Disposition.AWAY)
    faults = forms.ModelMultipleChoiceField(
        Fault.objects.none(), required=False, widget=forms.CheckboxSelectMultiple, label="Faults that this answers"
    )

    HEAD = ("changed_on", "basis", "measured_by", "instrument", "frequency_mhz", "temperature_c", "goes")
    ROW = ("change", "new", "loss", "old", "end", "lot", "why", "torque", "remark", "kept")

    def __init__(self, data=None, *, mat, rows, instruments, faults, on, may_keep, initial):
        super().__init__(data, initial=initial)
        self.mat, self.rows, self.on, self.may_keep = mat, rows, on, may_keep
        self.fields["instrument"].queryset = instruments
        self.fields["faults"].queryset = faults
        self.judged, self.changes = {}, []
        self._add_columns()
        for row in rows:
            self._add_row(row)

    def _add_columns(self):
        self.fields["all-change"] = forms.BooleanField(label="Every position was changed", required=False)
        for kind, field in _column_fields().items():
            field.label = COLUMNS[kind]
            self.fields[f"all-{kind}"] = field
        if not self.is_bound:
            self.fields["all-new"].widget.attrs |= {"autofocus": True, "aria-describedby": "about-new"}

    def _add_row(self, row):
        n, of = row.number, f", position {row.number}"
        self.fields[f"change-{n}"] = forms.BooleanField(label=f"Change{of}", required=False)
        for kind, field in _column_fields(of).items():
            self.fields[f"{kind}-{n}"] = field
        self.fields[f"loss-{n}"] = LossField(f"Loss of the new one, dB{of}")
        self.fields[f"old-{n}"] = LossField(f"Loss of the old one as it comes out, dB{of}")
        self.fields[f"kept-{n}"] = _line(f"Keep it all the same, because{of}", 400)
        self.fields[f"seen-{n}"] = forms.CharField(required=False, widget=forms.HiddenInput)
        self.initial |= {f"change-{n}": row.is_due, f"seen-{n}": row.seen}
        if row.is_due:
            self.initial[f"why-{n}"] = why(row.assessment)[:REASON_LENGTH]

    def clean_changed_on(self):
        check_not_after(self.cleaned_data["changed_on"], self.on, "day of the change")
        return self.cleaned_data["changed_on"]

    def clean(self):
        values = super().clean()
        self._refuse_stale()
        changed = [row for row in self.rows if self._is_changed(row)]
        if not changed and not self.errors:
            raise ValidationError("Tick at least one position that is changed.", code="empty")
        for row in changed:
            self._check(row)
        self._judge(changed)
        if not self.errors:
            self.changes = [self._change(row) for row in changed]
        return values

    def _is_changed(self, row):
        return bool(self.cleaned_data.get("all-change") or self.cleaned_data.get(f"change-{row.number}"))

    def _refuse_stale(self):
        for row in self.rows:
            if self._is_changed(row) and self.cleaned_data.get(f"seen-{row.number}") != row.seen:
                now = f"holds {row.segment} now" if row.segment else "is empty now"
                sentence = f"Somebody else changed position {row.number} while you were typing: it {now}. Look again."
                self.add_error(None, ValidationError(sentence, code="stale"))

    def renew_version(self, row):
        """After a refusal for somebody else's change: the page that answers shows what there is now."""
        self.data = self.data.copy()
        for shown in self.rows:
            self.data[f"seen-{shown.number}"] = shown.seen

    def _of(self, kind, row):
        """What was typed in the row, else for all of these."""
        return self.cleaned_data.get(f"{kind}-{row.number}") or self.cleaned_data.get(f"all-{kind}")

    @cached_property
    def _named(self):
        """{serial's key: segment} of all that was typed, in one query."""
        names = {str(value) for name, value in self.data.items() if name.startswith(("new-", "all-new")) and value}
        keys = [code_key(name.strip()) for name in names if len(name) <= CODE_LENGTH]
        found = CableSegment.objects.filter(serial_key__in=keys).select_related("cable_type")
        return {segment.serial_key: segment for segment in found}

    def _goes_in(self, row):
        """A GoesIn; None: nothing goes in."""
        typed = (self._of("new", row) or "").strip()
        if typed.lower() == NONE:
            return None
        lot = self._of("lot", row) or ""
        if typed.lower() == NEW:
            return GoesIn(lot=lot)
        segment = self._named.get(code_key(typed))
        return GoesIn(segment, lot=lot) if segment else GoesIn(serial=typed, lot=lot)

    def _check(self, row):
        n, typed = row.number, (self._of("new", row) or "").strip()
        if not typed and f"new-{n}" not in self.errors:
            self.add_error(f"new-{n}", "Say which cable goes in: a serial, “new”, or “none”.")
        elif typed and typed.lower() not in (NEW, NONE):
            self._check_serial(n, typed)
        if row.fitting and not self._of("why", row) and f"why-{n}" not in self.errors:
            self.add_error(f"why-{n}", f"Say why {row.segment} comes out.")
        self._check_losses(row, typed)

    def _check_serial(self, n, typed):
        try:
            check_code(typed)
        except ValidationError as error:
            self.add_error(f"new-{n}", error)

    def _check_losses(self, row, typed):
        n = row.number
        losses = [name for name in (f"loss-{n}", f"old-{n}") if self.cleaned_data.get(name)]
        if losses and self.cleaned_data.get("basis") == FittedBasis.ABOUT:
            self.add_error(losses[0], NO_DAY_TO_READ)
        if f"loss-{n}" in losses and typed.lower() == NONE:
            self.add_error(f"loss-{n}", "Nothing goes in here, so there is no new cable to measure. Empty the field.")
        if f"old-{n}" in losses and not row.fitting:
            self.add_error(f"old-{n}", "The position was empty, so no cable came out. Empty the field.")

    def _judge(self, changed):
        """Each reading of a new cable; one that is not good stops its row unless a keeper keeps it."""
        if any(name in self.errors for name in ("instrument", "frequency_mhz", "temperature_c")):
            return
        read = [row for row in changed if self.cleaned_data.get(f"loss-{row.number}")]
        cables = {row.number: self._cable_of(row) for row in read}
        judge = new_judge(self.mat, list(cables.values()), self.bench, self.on)
        for row in read:
            n = row.number
            judged = self.judged[n] = judge(cables[n], self.cleaned_data[f"loss-{n}"])
            kept = self.cleaned_data.get(f"kept-{n}")
            if judged.stops and not kept:
                self.add_error(f"loss-{n}", ValidationError(f"Not good enough to go in. {WAYS_OUT}", "unfit"))
            elif judged.stops and not self.may_keep:
                self.add_error(f"kept-{n}", f"Only a keeper keeps such a cable. {WAYS_OUT}")

    def _cable_of(self, row):
        """The segment that goes in, or the position, which says what a new one is."""
        goes_in = self._goes_in(row)
        return (goes_in and goes_in.segment) or row.place.specified

    def _change(self, row):
        values, n = self.cleaned_data, row.number
        out = None
        if row.fitting:
            out = TakenOut(row.fitting, self._of("why", row), values["goes"], row.fitting.version)
        return Change(
            position=n,
            new=self._goes_in(row),
            out=out,
            new_loss=values.get(f"loss-{n}"),
            old_loss=values.get(f"old-{n}"),
            kept_because=values.get(f"kept-{n}", "") if n in self.judged and self.judged[n].stops else "",
            torque_nm=self._of("torque", row),
            end_test=self._of("end", row) or "",
            remark=self._of("remark", row) or "",
        )

    @property
    def bench(self):
        names = ("instrument", "frequency_mhz", "temperature_c", "measured_by")
        return Bench(**{name: self.cleaned_data.get(name) or _NOT_SAID.get(name) for name in names})

    @property
    def asks(self):
        """Losses that are likely slips of the hand."""
        for row in self.rows:
            for kind, said in (("loss", "new"), ("old", "old")):
                loss = self.cleaned_data.get(f"{kind}-{row.number}")
                if self._is_changed(row) and loss is not None and loss.is_unlikely:
                    yield f"Position {row.number}, {said} cable: {loss.loss_db:g} dB is very high."

    @property
    def act_values(self):
        values = self.cleaned_data
        shared = {name: values[name] for name in ("changed_on", "basis")}
        return shared | {"changes": self.changes, "bench": self.bench, "faults": list(values["faults"])}

    @property
    def head(self):
        """What holds for all positions, as it was typed or as it stands in the empty form."""
        if self.is_bound:
            return self.cleaned_data
        instrument = self.fields["instrument"].queryset.filter(pk=self.initial.get("instrument")).first()
        return {"goes": self["goes"].initial} | self.initial | {"instrument": instrument}

    @property
    def head_fields(self):
        return [self[name] for name in self.HEAD]

    @property
    def head_is_wrong(self):
        return any(name in self.errors for name in self.HEAD)

    @property
    def change_all(self):
        return self["all-change"]

    @property
    def all_new(self):
        return self["all-new"]

    @property
    def more_of_all(self):
        return [self[f"all-{kind}"] for kind in COLUMNS if kind != "new"]

    @property
    def more_of_all_is_wrong(self):
        return any(field.errors for field in self.more_of_all)

    @property
    def form_rows(self):
        return [self._form_row(row) for row in self.rows]

    @property
    def seen_fields(self):
        return [self[f"seen-{row.number}"] for row in self.rows]

    @property
    def wrong_fields(self):
        return [self[name] for name in self.fields if name in self.errors]

    def _form_row(self, row):
        fields = {kind: self[f"{kind}-{row.number}"] for kind in self.ROW}
        judged = self.judged.get(row.number)
        shows_kept = bool(fields["kept"].value() or (judged and judged.stops and self.may_keep))
        return FormRow(row, fields, judged, shows_kept)


_NOT_SAID = {"measured_by": ""}
