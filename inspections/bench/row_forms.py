"""One row of the form of the bench: the fields of a cable, what was typed in them, and what that means."""

from dataclasses import dataclass
from statistics import median

from django import forms

from fleet.choices import FaultPlace

from ..choices import Taken
from ..numeric.far_readings import RECONNECTIONS, is_far
from ..numeric.words import Verdict
from ..validators import TypedLoss, parse_loss
from .selectors import BenchRow

FOUND, CLEANED = "found", "cleaned"
# the cable connected anew and read again
AGAIN = tuple(f"again{number}" for number in range(1, RECONNECTIONS + 1))
KINDS = {FOUND: Taken.AS_FOUND, **dict.fromkeys(AGAIN, Taken.AS_FOUND), CLEANED: Taken.AFTER_CLEANING}
MOVES = "moves"
WHERE_IT_MOVES = (
    ("", "steady, or not flexed"),
    (FaultPlace.CABLE.value, "moves at the cable or a fold"),
    (FaultPlace.CONNECTOR.value, "moves at a connector"),
)


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


def row_fields(row):
    """{name: field} of a BenchRow that holds a segment."""
    place, key = f"position {row.position}" if row.position else row.segment.serial, row.segment.pk
    labels = {FOUND: "as found", CLEANED: "after cleaning"}
    labels |= {kind: f"connected anew {number}" for number, kind in enumerate(AGAIN, 1)}
    fields = {f"{kind}-{key}": LossField(f"{place}, {labels[kind]}, dB") for kind in KINDS}
    moves = forms.ChoiceField(label=f"{place}, when flexed", required=False, choices=WHERE_IT_MOVES)
    return fields | {f"{MOVES}-{key}": moves}


@dataclass(frozen=True)
class BenchField:
    """One field of a row with what was typed in it; `unlikely`: the number that has to be confirmed, else ''.

    `earlier`: the reading on the same element that it is compared with.
    """

    name: str
    kind: str
    bound: forms.BoundField
    loss: TypedLoss | None
    judgement: object
    unlikely: str
    sure: bool
    earlier: object = None

    @property
    def number(self):
        """Of a reading again, the first is 1."""
        return AGAIN.index(self.kind) + 1 if self.kind in AGAIN else 0

    @property
    def more_than_earlier_db(self):
        """By how much the number on its element is higher than the earlier one; None where there is none."""
        if self.earlier is None or self.loss is None or self.loss.loss_db is None:
            return None
        return self.loss.loss_db - self.earlier.loss_db


@dataclass(frozen=True)
class FormRow:
    """One row of the page, of that place; `read`: {kind: BenchField}, empty where the position is.

    `expected`: an Expected, or None; `waits`: there is no verdict before the head of the form is right.
    """

    place: BenchRow
    read: dict
    moves: forms.BoundField | None = None
    expected: object = None
    waits: bool = False

    @property
    def found(self):
        return self.read.get(FOUND)

    @property
    def cleaned(self):
        return self.read.get(CLEANED)

    @property
    def again(self):
        return [self.read[kind] for kind in AGAIN if kind in self.read]

    @property
    def fields(self):
        return list(self.read.values())

    @property
    def typed(self):
        return [field for field in self.fields if field.loss is not None]

    @property
    def off_db(self):
        """By how much it reads more than expected as found, where that is far; else None."""
        judgement = self.found and self.found.judgement
        if not judgement or self.expected is None or judgement.reference_loss_db is None:
            return None
        expected = self.expected
        far = is_far(judgement.reference_loss_db, judgement.uncertainty_db, expected.loss_db, expected.sd_db)
        return judgement.reference_loss_db - expected.loss_db if far else None

    @property
    def asks_again(self):
        """It reads far from what was expected, and was not connected anew often enough."""
        return self.off_db is not None and sum(field.loss is not None for field in self.again) < RECONNECTIONS

    @property
    def spread_db(self):
        """Between the highest and the lowest number as found; None for fewer than two."""
        numbers = [field.loss.loss_db for field in self.typed if field.kind != CLEANED]
        numbers = [number for number in numbers if number is not None]
        return max(numbers) - min(numbers) if len(numbers) > 1 else None

    @property
    def day_loss(self):
        """What the readings of the row come to, as those of a day do: after cleaning, else no signal, else the median,
        else over before within; None where nothing was typed."""
        if self.cleaned and self.cleaned.loss is not None:
            return self.cleaned.loss
        losses = [field.loss for field in self.typed]
        numbers = [loss.loss_db for loss in losses if loss.loss_db is not None]
        silent = [loss for loss in losses if loss.no_signal]
        if silent or not numbers:
            said_over = [loss for loss in losses if loss.go_no_go == Verdict.OVER]
            return (silent or said_over or losses or [None])[0]
        return TypedLoss(median(numbers))
