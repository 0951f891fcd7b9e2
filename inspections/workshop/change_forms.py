"""The form on which the cables of a mat are changed: what holds for all once, then a row for each position."""

from functools import cached_property

from django.core.exceptions import ValidationError

from fleet.choices import FittedBasis
from fleet.models import CableSegment
from fleet.models.fields import code_key
from fleet.services.fittings import TakenOut
from fleet.validators import REASON_LENGTH, check_code

from ..templatetags.figures import counted
from ..templatetags.reason_text import why
from ..validators import check_shown
from .change_head_forms import ChangeHeadForm
from .change_row_forms import (
    COLUMNS,
    NEW,
    NONE,
    WIDE,
    FormRow,
    ShownField,
    all_fields,
    as_typed,
    row_fields,
)
from .change_services import NO_DAY_TO_READ, WAYS_OUT, Change, GoesIn, new_judge


class ChangeForm(ChangeHeadForm):
    """`rows`: the ChangeRows of the mat; a row is changed when it is ticked, or all are."""

    ROW = ("change", "new", "loss", "old", "end", "lot", "why", "torque", "remark", "kept")

    def __init__(self, data=None, *, mat, rows, instruments, faults, on, may_keep, initial):
        super().__init__(data, instruments=instruments, faults=faults, on=on, initial=initial)
        self.mat, self.rows, self.may_keep = mat, rows, may_keep
        self.judged, self.changes = {}, []
        self._add_columns()
        for row in rows:
            self._add_row(row)

    def _add_columns(self):
        for kind, field in all_fields().items():
            self.fields[f"all-{kind}"] = field
        if not self.is_bound:
            self.fields["all-new"].widget.attrs["autofocus"] = True

    def _add_row(self, row):
        n = row.number
        for kind, field in row_fields(n).items():
            self.fields[f"{kind}-{n}"] = field
        self.initial |= {f"change-{n}": row.is_due, f"seen-{n}": row.seen}
        if row.is_due:
            self.initial[f"why-{n}"] = why(row.assessment)[:REASON_LENGTH]

    def clean(self):
        values = super().clean()
        self._refuse_stale()
        self._refuse_missing()
        changed = [row for row in self.rows if self._is_changed(row)]
        if not changed and not self.errors:
            self._refuse_nothing()
        self._hand_out("loss", [row for row in changed if self._typed(row) != NONE])
        self._hand_out("old", [row for row in changed if row.fitting])
        if self._read_fields():
            self.check_connected()
        for row in changed:
            self._check(row)
        self._refuse_twice(changed)
        self._judge(changed)
        if not self.errors:
            self.changes = [self._change(row) for row in changed]
        return values

    def _refuse_nothing(self):
        raise ValidationError("Tick at least one position that is changed.", code="empty")

    def _is_changed(self, row):
        return bool(self.cleaned_data.get("all-change") or self.cleaned_data.get(f"change-{row.number}"))

    def _refuse_stale(self):
        for row in self.rows:
            if self._is_changed(row) and self.cleaned_data.get(f"seen-{row.number}") != row.seen:
                now = f"holds {row.segment} now" if row.segment else "is empty now"
                sentence = f"Somebody else changed position {row.number} while you were typing: it {now}. Look again."
                self.add_error(None, ValidationError(sentence, code="stale"))

    def _refuse_missing(self):
        """What was typed for a position that the design has no more is said, and goes with the page."""
        known = {f"seen-{row.number}" for row in self.rows}
        for number in [name[5:] for name in self.data if name.startswith("seen-") and name not in known]:
            typed = [str(self.data.get(f"{kind}-{number}", ""))[:60] for kind in ("new", "loss", "old", "remark")]
            if any(typed) or self.data.get(f"change-{number}"):
                wrote = f" You wrote there: {', '.join(filter(None, typed))}." if any(typed) else ""
                sentence = f"{self.mat.at_start} has no position {number[:9]} any more.{wrote} Look again."
                self.add_error(None, ValidationError(sentence, code="stale"))

    def _hand_out(self, kind, rows):
        """Losses written one after the other go to these rows in order, where a row says nothing else."""
        losses = self.cleaned_data.get(f"all-{kind}") or []
        if losses and len(losses) != len(rows):
            numbers = ", ".join(str(row.number) for row in rows)
            sentence = f"{counted(len(losses), 'reading')} for {counted(len(rows), 'cable')} (position {numbers})"
            self.add_error(f"all-{kind}", f"{sentence}: write one for each, and - for one that was not measured.")
        elif losses:
            self.data = self.data.copy()
            self.data[f"all-{kind}"] = ""
            for name, loss in zip([f"{kind}-{row.number}" for row in rows], losses, strict=True):
                if not self.data.get(name):
                    self.cleaned_data[name], self.data[name] = loss, as_typed(loss)

    def renew_version(self, row):
        """After a refusal for somebody else's change: the page that answers shows what there is now."""
        self.data = self.data.copy()
        for shown in self.rows:
            self.data[f"seen-{shown.number}"] = shown.seen

    def _of(self, kind, row):
        """What was typed in the row, else for all of these."""
        name, for_all = f"{kind}-{row.number}", self.cleaned_data.get(f"all-{kind}")
        own = self.cleaned_data.get(name)
        # what stands in a row from the start gives way
        if own and own != self.initial.get(name):
            return own
        return for_all or own

    @cached_property
    def _named(self):
        """{serial's key: segment} of all that was typed, in one query."""
        keys = {code_key(value) for name, value in self.cleaned_data.items() if name.startswith("new-") and value}
        found = CableSegment.objects.filter(serial_key__in=keys).select_related("cable_type")
        return {segment.serial_key: segment for segment in found}

    def _typed(self, row):
        """What was said to go in: a serial, NEW, NONE, or nothing."""
        typed = self._of("new", row) or ""
        return typed.lower() if typed.lower() in (NEW, NONE) else typed

    def _goes_in(self, row):
        """A GoesIn; None: nothing goes in."""
        typed, lot = self._typed(row), self._of("lot", row) or ""
        if typed == NONE:
            return None
        if typed == NEW:
            return GoesIn(lot=lot)
        segment = self._named.get(code_key(typed))
        return GoesIn(segment, lot=lot) if segment else GoesIn(serial=typed, lot=lot)

    def _check(self, row):
        n, typed = row.number, self._typed(row)
        if not typed and f"new-{n}" not in self.errors:
            self.add_error(f"new-{n}", "Say which cable goes in: its serial, or “new” for one without, or “none”.")
        elif typed and typed not in (NEW, NONE):
            self._check_serial(n, typed)
        if row.fitting and not self._of("why", row) and f"why-{n}" not in self.errors:
            self.add_error(f"why-{n}", f"Say why {row.segment} comes out.")
        self._check_losses(row, typed)

    def _check_serial(self, n, typed):
        try:
            check_code(typed)
        except ValidationError as error:
            self.add_error(f"new-{n}", error)

    def _refuse_twice(self, changed):
        first = {}
        for row in changed:
            typed = self._typed(row)
            if typed not in ("", NEW, NONE) and first.setdefault(code_key(typed), row) is not row:
                named = first[code_key(typed)].number
                self.add_error(f"new-{row.number}", f"{typed} is named for position {named} already. It is one cable.")

    def _check_losses(self, row, typed):
        n = row.number
        losses = [name for name in (f"loss-{n}", f"old-{n}") if self.cleaned_data.get(name)]
        for name in losses:
            self._check_shown(name)
        if losses and self.cleaned_data.get("basis") == FittedBasis.ABOUT:
            self.add_error(losses[0], NO_DAY_TO_READ)
        if f"loss-{n}" in losses and typed == NONE:
            self.add_error(f"loss-{n}", "Nothing goes in here, so there is no new cable to measure. Empty the field.")
        if f"old-{n}" in losses and not row.fitting:
            self.add_error(f"old-{n}", "The position was empty, so no cable came out. Empty the field.")

    def _check_shown(self, name):
        try:
            check_shown(self.kind, self.chosen_method, self.cleaned_data[name])
        except ValidationError as error:
            self.add_error(name, error)

    def _read_fields(self):
        """Names of the fields in which something was typed that an instrument showed."""
        names = [f"{kind}-{row.number}" for row in self.rows for kind in ("loss", "old")]
        return [name for name in names if self.cleaned_data.get(name)]

    def _judge(self, changed):
        """Each reading of a new cable; one that is not good stops its row unless a keeper keeps it."""
        if any(name in self.errors for name in ("instrument", "method", "frequency_mhz", "temperature_c")):
            return
        read = [row for row in changed if self.cleaned_data.get(f"loss-{row.number}")]
        cables = {row.number: self._cable_of(row) for row in read}
        judge = new_judge(self.mat, list(cables.values()), self.bench, self.cleaned_data.get("changed_on"), self.on)
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
    def asks(self):
        """Losses that are likely slips of the hand, and torques that the cable type is not made for."""
        for row in filter(self._is_changed, self.rows):
            yield from self._asks_of_torque(row)
            for kind, said in (("loss", "new"), ("old", "old")):
                loss = self.cleaned_data.get(f"{kind}-{row.number}")
                if loss is not None and loss.is_unlikely:
                    yield f"Position {row.number}, {said} cable: {loss.loss_db:g} dB is very high."

    def _asks_of_torque(self, row):
        torque_nm, cable_type = self._of("torque", row), self._cable_of(row).cable_type
        low_nm, high_nm = cable_type.torque_min_nm, cable_type.torque_max_nm
        if torque_nm and low_nm is not None and not low_nm <= torque_nm <= high_nm:
            window = f"{low_nm:g} to {high_nm:g} N·m"
            yield f"Position {row.number}: {torque_nm:g} N·m is outside the {window} of {cable_type}."

    @property
    def act_values(self):
        values = self.cleaned_data
        shared = {name: values[name] for name in ("changed_on", "basis", "faults")}
        return shared | {"changes": self.changes, "bench": self.bench}

    @property
    def change_all(self):
        return self["all-change"]

    @property
    def all_new(self):
        return self["all-new"]

    @property
    def all_losses(self):
        return self["all-loss"]

    @property
    def all_tested(self):
        """Without an instrument the transponder is what says that a cable works."""
        return self["all-end"]

    @property
    def more_of_all(self):
        bound = {kind: self[f"all-{kind}"] for kind in ("old", *COLUMNS) if kind != "end"}
        return [ShownField(field, field.label, kind in ("old", *WIDE)) for kind, field in bound.items()]

    @property
    def all_is_wrong(self):
        return any(name.startswith("all-") for name in self.errors)

    @property
    def more_of_all_is_wrong(self):
        return any(shown.bound.errors for shown in self.more_of_all)

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
