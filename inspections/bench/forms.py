"""The form of the bench: what holds for all readings once, then a loss for each position."""

from django.core.exceptions import ValidationError

from fleet.forms.fields import DayField
from fleet.parsing.whole_numbers import read_whole

from ..assessment.bench_day_selectors import withheld_on
from ..numeric.words import InstrumentKind, Method, Verdict
from ..templatetags.figures import figure, two_places
from ..validators import check_shown, parse_loss
from .expected_selectors import earlier_on_element, expected_losses
from .head_forms import BenchHeadForm
from .row_forms import CLEANED, FOUND, KINDS, MOVES, BenchField, FormRow, LossField, row_fields
from .selectors import bench_rows, instruments_in_use
from .services import Moving, TypedReading, taken_on

__all__ = ["BenchForm", "LossField"]
# kinds of instruments whose numbers, or words, are no loss of a cable read through
SAYS_OTHERWISE = (InstrumentKind.ONE_PORT, InstrumentKind.GO_NO_GO)
AT_FIRST = "Were the leads taken out of it? Is one end open? Is it this cable?"
CONNECT_ANEW = "Connect it anew and read again, up to three times."


class BenchForm(BenchHeadForm):
    def __init__(self, *args, rows, criteria, **kwargs):
        self.rows, self.criteria = rows, criteria
        self.expected, self.earlier, self.withheld = {}, {}, None
        super().__init__(*args, **kwargs)
        for row in self._measurable():
            self.fields.update(row_fields(row))
        if not self.is_bound:
            self._focus()

    @classmethod
    def for_mat(cls, mat, data, *, criteria, on, initial):
        """With a row for each position on the day that is typed, and for each segment that a loss was typed for."""
        day = _day_typed(data, on) if data else initial["measured_on"]
        rows = bench_rows(mat, day, criteria, _segments_typed(data or {}))
        return cls(data, rows=rows, criteria=criteria, instruments=instruments_in_use(on), on=on, initial=initial)

    @property
    def act_values(self):
        """The readings, those that moved when flexed, and what holds for all."""
        head = {name: self.cleaned_data[name] for name in self.HEAD if name not in self.HOW}
        return {"readings": self.typed_readings(), "moving": self.moving(), **head, "method": self.kept_method}

    def clean(self):
        super().clean()
        for name, row, _ in self._loss_fields():
            loss = self.cleaned_data.get(name)
            if loss is not None:
                self._check_loss(name, row, loss)
        for row in self._measurable():
            if self._moves(row) and self._worst(row) is None and not self._wrong(row):
                self.add_error(f"{FOUND}-{row.segment.pk}", "Type the worst value that it showed while you flexed it.")
        if not self.head_is_wrong:
            # why the bench day gives no verdict, if it does not
            self.withheld = withheld_on(self.on, [self.bench_day]).get(self.bench_day)
        if not self.errors and not self.typed_readings():
            raise ValidationError("Type at least one loss.", code="empty")
        self._look_up()

    def _check_loss(self, name, row, loss):
        if row.position is None:
            self.add_error(name, f"{row.segment} was not in this mat on that day. Change the day, or empty the field.")
            return
        try:
            check_shown(self.kind, self.chosen_method, loss)
        except ValidationError as error:
            self.add_error(name, error)
            return
        if loss.is_unlikely and not self._is_sure(name, loss):
            sentence = f"{loss.loss_db:g} dB is very high. Tick to confirm it."
            self.add_error(name, ValidationError(sentence, code="unlikely"))

    def _look_up(self):
        """What the cables are expected to read, as far as that can be compared with what was typed."""
        if self.head_is_wrong or not any(self.cleaned_data.get(name) for name, *_ in self._loss_fields()):
            return
        day = self.cleaned_data["measured_on"]
        if self.chosen_method == Method.ON_ELEMENT:
            self.earlier = earlier_on_element(self.rows, day, self.chosen_instrument)
        else:
            self.expected = expected_losses(self.rows, day, self.criteria)

    @property
    def asks(self):
        """Readings far from what was expected that were not connected anew often enough."""
        return [_question(row) for row in self.form_rows if row.asks_again and not row.found.unlikely]

    def typed_readings(self):
        """What was typed, in the order of the positions; fields left empty are left out."""
        readings = []
        for name, row, kind in self._loss_fields():
            loss = self.cleaned_data.get(name)
            if loss is not None:
                taken = taken_on(self.cleaned_data["measured_on"], row.fitted_on, KINDS[kind])
                readings.append(TypedReading(row.segment, loss, taken))
        return readings

    def moving(self):
        """A Moving for each cable that moved when it was flexed."""
        rows = [row for row in self._measurable() if row.position and self._moves(row)]
        return [Moving(row.position, self._moves(row)) for row in rows]

    @property
    def summary(self):
        """Its cables counted by verdict, the worst first, and at which positions all but *within* stand."""
        positions = {}
        for row in self.form_rows:
            if row.typed:
                positions.setdefault(self._judgement(row.day_loss).verdict, []).append(f"{row.place.position}")
        said = [_counted(verdict, positions[verdict]) for verdict in _WORST_FIRST if verdict in positions]
        return ", ".join(said) + "."

    def full_clean(self):
        super().full_clean()
        self._focus()

    @property
    def wrong_fields(self):
        return [self[name] for name in self.fields if name in self.errors]

    @property
    def form_rows(self):
        return [self._form_row(row) for row in self.rows]

    @property
    def shows_cleaned(self):
        return any(self[name].value() for name, _, kind in self._loss_fields() if kind == CLEANED)

    @property
    def shows_moves(self):
        return any(self[f"{MOVES}-{row.segment.pk}"].value() for row in self._measurable())

    @property
    def measurable(self):
        """How many positions hold a segment, so that a loss can be typed."""
        return sum(1 for row in self._measurable() if row.position)

    @property
    def typed(self):
        return sum(1 for row in self.form_rows if row.typed)

    def _focus(self):
        """The first wrong field takes the focus, else the first that is asked for, else the first loss."""
        losses = [name for name, *_ in self._loss_fields()]
        wrong = [name for name in [*self.HEAD, *losses] if name in (self._errors or {})]
        again = [] if wrong or not self.is_bound else [row.again[0].name for row in self.form_rows if row.asks_again]
        head = self._asked_first()
        for name in (wrong or again or head or losses)[:1]:
            self.fields[name].widget.attrs["autofocus"] = True

    def leave_focus(self):
        """For parts of the page that are renewed: they take the focus from nobody."""
        for field in self.fields.values():
            field.widget.attrs.pop("autofocus", None)

    def _asked_first(self):
        """Of a form that nobody sent: how cables are connected, where that is still to be said; with which instrument,
        where this session said nothing yet and one is there of which a number means something else."""
        if self.is_bound:
            return []
        if not self.chosen_method:
            return ["method"]
        from_one_end = any(each.kind in SAYS_OTHERWISE for each in self.fields["instrument"].queryset)
        return ["instrument"] if from_one_end and not self.said_before else []

    def _measurable(self):
        return [row for row in self.rows if row.segment]

    def _loss_fields(self):
        for row in self._measurable():
            for kind in KINDS:
                yield f"{kind}-{row.segment.pk}", row, kind

    def _moves(self, row):
        return self.cleaned_data.get(f"{MOVES}-{row.segment.pk}") or ""

    def _worst(self, row):
        """What was typed for it as found."""
        return self.cleaned_data.get(f"{FOUND}-{row.segment.pk}")

    def _wrong(self, row):
        return f"{FOUND}-{row.segment.pk}" in self.errors

    def _form_row(self, row):
        if row.segment is None:
            return FormRow(row, {})
        key = row.segment.pk
        return FormRow(
            row,
            {kind: self._field(f"{kind}-{key}", kind, row) for kind in KINDS},
            self[f"{MOVES}-{key}"],
            self.expected.get(key),
            waits=self.is_bound and self.head_is_wrong,
        )

    def _field(self, name, kind, row):
        loss = getattr(self, "cleaned_data", {}).get(name)
        unlikely = (loss is not None and loss.is_unlikely) or (self.is_bound and self.has_error(name, code="unlikely"))
        return BenchField(
            name=name,
            kind=kind,
            bound=self[name],
            loss=loss,
            judgement=self._judgement(loss),
            unlikely=f"{parse_loss(self[name].value()).loss_db:g}" if unlikely else "",
            sure=loss is not None,
            earlier=self.earlier.get(row.segment.pk),
        )

    def _judgement(self, loss):
        if loss is None or self.head_is_wrong:
            return None
        head = self.cleaned_data
        judgement = self.criteria.judge(
            loss, head["frequency_mhz"], head["temperature_c"], self.chosen_instrument, self.kept_method
        )
        return judgement.withheld_for(self.withheld)

    def _is_sure(self, name, loss):
        """The tick carries the number it was given for, so it does not cover a number typed later."""
        return self.data.get(f"sure-{name}") == f"{loss.loss_db:g}"


# "": not compared
_WORST_FIRST = (Verdict.OVER, Verdict.UNDECIDED, "", Verdict.WITHIN)


def _counted(verdict, places):
    positions = "" if verdict == Verdict.WITHIN else f" (position {', '.join(places)})"
    return f"{len(places)} {verdict or 'not compared'}{positions}"


def _question(row):
    """About a reading far from what was expected; it names the numbers, so that another one asks again."""
    judgement, expected = row.found.judgement, row.expected
    number = f"{figure(judgement.number_db)} dB"
    if judgement.is_return_loss:
        number += f" shown, {figure(judgement.loss_db)} dB loss"
    told = [f"Position {row.place.position}: {number}"]
    told += [f"again {figure(field.loss.loss_db)} dB" for field in row.again if field.loss and field.loss.loss_db]
    said = ", ".join(told)
    if expected.by_own:
        return f"{said}. By its own readings {two_places(expected.loss_db)} dB was expected. {CONNECT_ANEW}"
    fresh = f"A fresh one of its length and type reads {two_places(expected.loss_db)} dB."
    return f"{said}. {fresh} {AT_FIRST} {CONNECT_ANEW}"


def _day_typed(data, on):
    """The day of measuring as far as it can be read, so that the rows are those of that day."""
    try:
        return DayField().clean(data.get("measured_on")) or on
    except ValidationError:
        return on


def _segments_typed(data):
    """Primary keys of the segments for which something was typed."""
    names = (name.partition("-") for name, value in data.items() if value and value.strip())
    return {read_whole(key) for kind, _, key in names if kind in KINDS} - {None}
