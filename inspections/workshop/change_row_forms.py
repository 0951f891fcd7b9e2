"""The fields of the form on which cables are changed: of one position, and of all of these."""

import re
from dataclasses import dataclass

from django import forms

from fleet.choices import EndTest
from fleet.forms.fields import NumberField
from fleet.forms.record_forms import word_choices
from fleet.limits import TORQUE
from fleet.validators import CODE_LENGTH, REASON_LENGTH, check_line

from ..bench.row_forms import LossField
from ..validators import parse_loss
from .change_selectors import ChangeRow

NEW, NONE = "new", "none"
WHICH = (
    ("", "each as its position says"),
    (NEW, "new ones without a serial: each gets a number of ours"),
    (NONE, "none: the positions stay empty"),
)
# kinds that are written for all of these in one field, one after the other, with the label there
IN_ORDER = {"loss": "New ones read, dB, one after the other", "old": "Old ones read, dB, one after the other"}
# kinds that are said once for all of these, with the label there
COLUMNS = {
    "why": "Why the old ones come out",
    "lot": "Lot of the new ones",
    "torque": "Torque used, N·m",
    "end": "Transponder test",
    "remark": "Remark",
}
# of the fields of a row, as the page shows them
LABELS = {
    "new": "Cable that goes in",
    "loss": "New one reads, dB",
    "old": "Old one reads, dB",
    "end": "Transponder test",
    "why": "Why the old one comes out",
    "lot": "Lot of the new one",
    "torque": "Torque used, N·m",
    "remark": "Remark",
    "kept": "Keep it all the same, because",
}
WIDE = ("why", "kept")


def line_field(label, length, **attrs):
    widget = forms.TextInput(attrs={"autocomplete": "off", **attrs})
    return forms.CharField(label=label, required=False, max_length=length, validators=[check_line], widget=widget)


class LossesField(forms.CharField):
    """Losses with blanks between, `0.7 0,8 no -`; gives a list of TypedLoss, None where nothing was measured."""

    def __init__(self, label):
        attrs = {"autocomplete": "off", "enterkeyhint": "next", "placeholder": "0.7 0.8 no -", "class": "losses"}
        super().__init__(label=label, required=False, max_length=2000, widget=forms.TextInput(attrs=attrs))

    def to_python(self, value):
        text = super().to_python(value)
        super().run_validators(text)
        text = text.lower().replace("no signal", "no")
        words = re.split(r"[;\s]+|,\s+|,$", re.sub(r"(?<=\d)\s*db\b", "", text))
        return [None if word in ("-", "–") else parse_loss(word) for word in words if word]

    def run_validators(self, value):
        """Those of a text ran before it was read."""


def column_fields(of=""):
    """{kind: field} of what one row says, or all of these."""
    choices = [("", "not tested"), *word_choices(EndTest)]
    return {
        "why": line_field(f"Why the old one comes out{of}", REASON_LENGTH, list="whys"),
        "lot": line_field(f"Lot of the new one{of}", 60),
        "torque": NumberField(label=f"Torque used, N·m{of}", required=False, limit=TORQUE),
        "end": forms.ChoiceField(label=f"Transponder test{of}", required=False, choices=choices),
        "remark": line_field(f"Remark{of}", 500),
    }


def all_fields():
    """{kind: field} of all of these."""
    fields = {
        "new": forms.ChoiceField(
            label="Which cables go in", required=False, choices=WHICH, widget=forms.RadioSelect, initial=""
        ),
        "change": forms.BooleanField(label="Every position was changed", required=False),
    }
    for kind, label in IN_ORDER.items():
        fields[kind] = LossesField(label)
    for kind, field in column_fields().items():
        field.label = COLUMNS[kind]
        fields[kind] = field
    return fields


def row_fields(number):
    """{kind: field} of one position."""
    of = f", position {number}"
    serial = {"list": "spares", "autocapitalize": "off", "spellcheck": "false", "placeholder": "as for all"}
    return column_fields(of) | {
        "change": forms.BooleanField(label=f"Change{of}", required=False),
        "new": line_field(f"Cable that goes in{of}", CODE_LENGTH, **serial),
        "loss": LossField(f"New one reads, dB{of}"),
        "old": LossField(f"Old one reads, dB{of}"),
        "kept": line_field(f"Keep it all the same, because{of}", 400),
        "seen": forms.CharField(required=False, widget=forms.HiddenInput),
    }


def as_typed(loss):
    """How a TypedLoss, or None, is written in the field of a row."""
    if loss is None:
        return ""
    return loss.go_no_go or ("no" if loss.no_signal else f"{loss.loss_db:.12g}")


@dataclass(frozen=True)
class ShownField:
    """A field of a row under a short label: its own names the position, for those who hear it. `wide`: a whole line."""

    bound: forms.BoundField
    label: str
    wide: bool = False


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
    def asks_why(self):
        """Nothing says yet why the old one comes out."""
        return self.row.segment is not None and not self.row.is_due

    @property
    def first(self):
        """What is asked at once."""
        kinds = ["new", "loss", "old", "end"] if self.row.segment else ["new", "loss", "end"]
        return self._shown([*kinds, "why"] if self.asks_why else kinds)

    @property
    def more(self):
        """What is asked of those who look for it."""
        why = ["why"] if self.row.segment and not self.asks_why else []
        return self._shown([*why, "lot", "torque", "remark"])

    @property
    def more_is_wrong(self):
        return any(shown.bound.errors for shown in self.more)

    @property
    def kept(self):
        return self._shown(["kept"] if self.shows_kept else [])

    def _shown(self, kinds):
        return [ShownField(self.fields[kind], LABELS[kind], kind in WIDE) for kind in kinds]
