"""The form of the bench: what holds for all readings once, then a loss for each position."""

from dataclasses import dataclass

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.fields import DayField, NumberField
from fleet.forms.submissions import OnceForm
from fleet.limits import DAY_PASSED
from fleet.parsing.whole_numbers import read_whole
from fleet.validators import check_not_after

from ..choices import MeasurementReason, Taken
from ..limits import FREQUENCY, TEMPERATURE
from ..models import Instrument
from ..numeric.words import Verdict
from ..validators import TypedLoss, parse_loss
from .selectors import BenchRow, bench_rows, instruments_in_use
from .services import TypedReading, taken_on

FOUND, CLEANED = "found", "cleaned"


class LossField(forms.CharField):
    """A loss as typed, a TypedLoss; None where nothing was typed."""

    def __init__(self, label):
        attrs = {
            "class": "figure-field",
            "inputmode": "decimal",
            "autocomplete": "off",
            "enterkeyhint": "next",
            "placeholder": " ",
            "maxlength": "60",
            # rows have no room for a label of their own
            "aria-label": label,
        }
        super().__init__(label=label, required=False, widget=forms.TextInput(attrs=attrs))

    def to_python(self, value):
        text = super().to_python(value)
        return parse_loss(text) if text else None


@dataclass(frozen=True)
class BenchField:
    """One field of a row with what was typed in it; `unlikely`: the number that has to be confirmed, else ''."""

    name: str
    taken: str
    bound: forms.BoundField
    loss: TypedLoss | None
    judgement: object
    unlikely: str
    sure: bool


@dataclass(frozen=True)
class FormRow:
    """One row of the page, of that place. `found` and `cleaned` are None where the position is empty."""

    place: BenchRow
    found: BenchField | None = None
    cleaned: BenchField | None = None

    @property
    def fields(self):
        return [field for field in (self.found, self.cleaned) if field]


class BenchForm(OnceForm):
    measured_on = DayField(label="Measured on", limit=DAY_PASSED)
    frequency_mhz = NumberField(
        label="Frequency in MHz",
        required=False,
        limit=FREQUENCY,
        help_text="Empty: the reference frequency.",
    )
    temperature_c = NumberField(
        label="Temperature in °C",
        required=False,
        limit=TEMPERATURE,
        help_text="Empty: 20 °C is assumed.",
    )
    instrument = forms.ModelChoiceField(Instrument.objects.none(), required=False, empty_label="not named")
    measured_by = forms.CharField(label="Measured by", max_length=100, required=False)
    reason = forms.ChoiceField(label="Why", choices=MeasurementReason.choices)

    HEAD = ("measured_on", "frequency_mhz", "temperature_c", "instrument", "measured_by", "reason")

    def __init__(self, *args, rows, criteria, instruments, on, **kwargs):
        super().__init__(*args, **kwargs)
        self.rows, self.criteria, self.on = rows, criteria, on
        self.fields["instrument"].queryset = instruments
        for name, row, taken in self._loss_fields():
            place = f"position {row.position}" if row.position else row.segment.serial
            self.fields[name] = LossField(label=f"{place}, {taken}, dB")
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
        return {"readings": self.typed_readings(), **self.head()}

    def clean_measured_on(self):
        check_not_after(self.cleaned_data["measured_on"], self.on, "day of measuring")
        return self.cleaned_data["measured_on"]

    def clean(self):
        for name, row, _ in self._loss_fields():
            loss = self.cleaned_data.get(name)
            if loss is not None and row.position is None:
                self.add_error(
                    name, f"{row.segment} was not in this mat on that day. Change the day, or empty the field."
                )
            elif _unlikely(loss) and not self._is_sure(name, loss):
                sentence = f"{loss.loss_db:g} dB is very high. Tick to confirm it."
                self.add_error(name, ValidationError(sentence, code="unlikely"))
        if not self.errors and not self.typed_readings():
            raise ValidationError("Type at least one loss.", code="empty")

    def typed_readings(self):
        """What was typed, in the order of the positions; fields left empty are left out."""
        readings = []
        for name, row, taken in self._loss_fields():
            loss = self.cleaned_data.get(name)
            if loss is not None:
                readings.append(TypedReading(row.segment, loss, self._taken(row, taken)))
        return readings

    @property
    def summary(self):
        """Its cables counted by verdict, the worst first, and at which positions all but *within* stand.

        A cable that was read again after cleaning is told by that reading.
        """
        positions = {}
        for row in self.form_rows:
            read = [field for field in row.fields if field.loss is not None]
            if read:
                positions.setdefault(read[-1].judgement.verdict, []).append(f"{row.place.position}")
        said = [_counted(verdict, positions[verdict]) for verdict in _WORST_FIRST if verdict in positions]
        return ", ".join(said) + "."

    def head(self):
        return {name: self.cleaned_data[name] for name in self.HEAD}

    def full_clean(self):
        super().full_clean()
        self._focus()

    @property
    def head_fields(self):
        return [self[name] for name in self.HEAD]

    @property
    def initial_instrument(self):
        """The remembered instrument, while it is in use."""
        return self.fields["instrument"].queryset.filter(pk=self.initial.get("instrument")).first()

    @property
    def wrong_fields(self):
        return [self[name] for name in self.fields if name in self.errors]

    @property
    def head_is_wrong(self):
        return any(name in self.errors for name in self.HEAD)

    @property
    def form_rows(self):
        return [self._form_row(row) for row in self.rows]

    @property
    def shows_cleaned(self):
        return any(self[name].value() for name, _, taken in self._loss_fields() if taken == Taken.AFTER_CLEANING)

    @property
    def measurable(self):
        """How many positions hold a segment, so that a loss can be typed."""
        return sum(1 for row in self.rows if row.segment and row.position)

    @property
    def typed(self):
        return sum(1 for row in self.form_rows if any(field.loss is not None for field in row.fields))

    def _focus(self):
        """The first wrong field takes the focus, else the first loss."""
        losses = [name for name, _, _ in self._loss_fields()]
        wrong = [name for name in [*self.HEAD, *losses] if name in (self._errors or {})]
        for name in (wrong or losses)[:1]:
            self.fields[name].widget.attrs["autofocus"] = True

    def _loss_fields(self):
        for row in self.rows:
            if row.segment:
                yield f"{FOUND}-{row.segment.pk}", row, Taken.AS_FOUND
                yield f"{CLEANED}-{row.segment.pk}", row, Taken.AFTER_CLEANING

    def _taken(self, row, taken):
        return taken_on(self.cleaned_data["measured_on"], row.fitted_on, taken)

    def _form_row(self, row):
        if row.segment is None:
            return FormRow(row)
        found, cleaned = (f"{kind}-{row.segment.pk}" for kind in (FOUND, CLEANED))
        return FormRow(row, self._field(found, Taken.AS_FOUND), self._field(cleaned, Taken.AFTER_CLEANING))

    def _field(self, name, taken):
        loss = getattr(self, "cleaned_data", {}).get(name)
        unlikely = _unlikely(loss) or (self.is_bound and self.has_error(name, code="unlikely"))
        return BenchField(
            name=name,
            taken=taken,
            bound=self[name],
            loss=loss,
            judgement=self._judgement(loss),
            unlikely=f"{parse_loss(self[name].value()).loss_db:g}" if unlikely else "",
            sure=loss is not None,
        )

    def _judgement(self, loss):
        if loss is None or self.head_is_wrong:
            return None
        head = self.cleaned_data
        return self.criteria.judge(loss, head["frequency_mhz"], head["temperature_c"], head["instrument"])

    def _is_sure(self, name, loss):
        """The tick carries the number it was given for, so it does not cover a number typed later."""
        return self.data.get(f"sure-{name}") == f"{loss.loss_db:g}"


# "": not compared
_WORST_FIRST = (Verdict.OVER, Verdict.UNDECIDED, "", Verdict.WITHIN)


def _counted(verdict, places):
    positions = "" if verdict == Verdict.WITHIN else f" (position {', '.join(places)})"
    return f"{len(places)} {verdict or 'not compared'}{positions}"


def _unlikely(loss):
    return loss is not None and loss.is_unlikely


def _day_typed(data, on):
    """The day of measuring as far as it can be read, so that the rows are those of that day."""
    try:
        return DayField().clean(data.get("measured_on")) or on
    except ValidationError:
        return on


def _segments_typed(data):
    """Primary keys of the segments for which something was typed."""
    names = (name.partition("-") for name, value in data.items() if value and value.strip())
    return {read_whole(key) for kind, _, key in names if kind in (FOUND, CLEANED)} - {None}
