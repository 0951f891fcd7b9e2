"""Which labels, on which sheet, and where on it."""

import re

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.fields import CountField, NumberField
from fleet.limits import Limit
from fleet.parsing.mat_lists import read_mat_list

from .grid_choices import A4, LETTER, READY, RULER_MM, LabelGrid
from .selectors import CABLES, IN_MATS, MATS, ON_SHELF, known_mats, unknown_serials

OWN, USUAL = "own", "a4-21"
COUNT = Limit("number of labels", "", 1, 1, 40, 40, whole=True)
FIRST = Limit("place on the sheet", "", 1, 1, 1_000, 1_000, whole=True)
COPIES = Limit("number of copies", "", 1, 1, 4, 4, whole=True)
SIZE = Limit("label", "mm", 8, 8, 250, 250)
EDGE = Limit("edge", "mm", 0, 0, 100, 100)
SHIFT = Limit("shift", "mm", -15, -15, 15, 15)
_SERIALS = re.compile(r"[,;\n\r\t]+")
_WHAT = [
    (MATS, "mats"),
    (IN_MATS, "the cables in mats"),
    (ON_SHELF, "the cables on the shelf"),
    (CABLES, "cables that I name"),
]
_GRID = ("columns", "rows", "width_mm", "height_mm", "left_mm", "top_mm")
_GAPS = ("across_mm", "down_mm")


class LabelForm(forms.Form):
    """It asks and changes nothing, so it is sent as an address that can be kept."""

    what = forms.ChoiceField(label="Labels for", choices=_WHAT, widget=forms.RadioSelect, initial=MATS)
    mats = forms.CharField(
        label="Only these mats",
        required=False,
        max_length=10_000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Numbers, such as M-001 to M-008, M-017. Empty: all in use.",
    )
    depot = forms.ModelChoiceField(None, required=False, to_field_name="name", empty_label="all depots")
    serials = forms.CharField(
        label="Serials of the cables that I name",
        required=False,
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="One a line, or with commas between.",
    )
    sheet = forms.ChoiceField(
        label="Sheet",
        choices=[*((name, grid.in_words) for name, grid in READY.items()), (OWN, "another: its measures are below")],
        initial=USUAL,
        error_messages={"invalid_choice": "There is no sheet “%(value)s” in the list. Choose one."},
        help_text="Look at the packet, or lay a ruler on the sheet.",
    )
    first = CountField(
        label="Begin with label",
        limit=FIRST,
        initial=1,
        help_text="Counted along the rows. Of a sheet that is begun: the first label that is still on it.",
    )
    copies = CountField(label="Of each", limit=COPIES, initial=1, help_text="A cable may have one at each end.")
    outlines = forms.BooleanField(label="Outline each label", required=False, help_text="For a trial on plain paper.")
    paper = forms.ChoiceField(label="Paper", required=False, choices=[(A4, A4), (LETTER, LETTER)])
    columns = CountField(label="Labels across", required=False, limit=COUNT)
    rows = CountField(label="Labels down", required=False, limit=COUNT)
    width_mm = NumberField(label="Width of a label, mm", required=False, limit=SIZE)
    height_mm = NumberField(label="Height of a label, mm", required=False, limit=SIZE)
    left_mm = NumberField(label="Paper’s left edge to the first, mm", required=False, limit=EDGE)
    top_mm = NumberField(label="Paper’s upper edge to the first, mm", required=False, limit=EDGE)
    across_mm = NumberField(label="Between two across, mm", required=False, limit=EDGE)
    down_mm = NumberField(label="Between two down, mm", required=False, limit=EDGE)
    right_mm = NumberField(label="Print it further right, mm", required=False, limit=SHIFT)
    lower_mm = NumberField(label="Print it further down, mm", required=False, limit=SHIFT)

    WHICH = ("mats", "depot", "serials")
    WHERE = ("first", "copies", "outlines")
    MEASURES = ("paper", *_GRID, *_GAPS)
    PRINTER = ("right_mm", "lower_mm")

    def __init__(self, *args, depots, on, **kwargs):
        super().__init__(*args, **kwargs)
        self.on = on
        self.fields["depot"].queryset = depots
        if len(depots) < 2 and not self.data.get("depot"):
            del self.fields["depot"]

    def part(self, *names):
        return [self[name] for name in names if name in self.fields]

    @property
    def which(self):
        return self.part(*self.WHICH)

    @property
    def where(self):
        return self.part(*self.WHERE)

    @property
    def measures(self):
        return self.part(*self.MEASURES)

    @property
    def printer(self):
        return self.part(*self.PRINTER)

    @property
    def has_own_measures(self):
        return self["sheet"].value() == OWN

    @property
    def has_shift(self):
        return any(field.value() for field in self.printer)

    def clean_mats(self):
        """The mats named, None where nobody is named; a number that is none is refused."""
        text = self.cleaned_data["mats"].strip()
        if not text:
            return None
        listed = read_mat_list(text, known_mats(), self.on)
        if listed.unknown:
            raise ValidationError(f"Not known: {', '.join(listed.unknown)}. Correct them, or leave them out.")
        if listed.withdrawn:
            raise ValidationError(f"Withdrawn: {', '.join(mat.number for mat in listed.withdrawn)}. Leave them out.")
        return listed.mats

    def clean_serials(self):
        serials = [each.strip() for each in _SERIALS.split(self.cleaned_data["serials"]) if each.strip()]
        if unknown := unknown_serials(serials):
            raise ValidationError(f"Not known: {', '.join(unknown)}. Correct them, or leave them out.")
        return serials

    def clean(self):
        values = super().clean()
        if values.get("what") == CABLES and not values.get("serials") and "serials" not in self.errors:
            self.add_error("serials", "Write the serials of the cables, or choose other labels above.")
        self.grid = self._grid(values)
        if self.grid and (values.get("first") or 1) > self.grid.size:
            self.add_error("first", f"A sheet has {self.grid.size} labels: write 1 to {self.grid.size}.")
        return values

    def _grid(self, values):
        """The sheet, None where it cannot be known."""
        if values.get("sheet") != OWN:
            return READY.get(values.get("sheet"))
        for name in _GRID:
            if values.get(name) is None and name not in self.errors:
                self.add_error(name, "Write it, because another sheet is chosen.")
        if any(name in self.errors for name in (*_GRID, *_GAPS, "paper")):
            return None
        gaps = {name: values.get(name) or 0.0 for name in _GAPS}
        return self._on_paper(LabelGrid(values.get("paper") or A4, *(values[name] for name in _GRID), **gaps))

    def _on_paper(self, grid):
        """The sheet, None where its labels do not fit on the paper: what is too large is said at what makes it so."""
        for beyond, name, way in zip(grid.beyond, ("columns", "rows"), ("wider", "higher"), strict=True):
            if beyond > RULER_MM:
                self.add_error(name, f"The labels are {beyond:.1f} mm {way} than {grid.paper} paper. Measure again.")
        return grid if max(grid.beyond) <= RULER_MM else None

    @property
    def shift_mm(self):
        """(right, down), by which all is moved."""
        return tuple(self.cleaned_data.get(name) or 0.0 for name in self.PRINTER)
