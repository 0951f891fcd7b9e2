"""Forms of the shelf: what came, what was counted, thrown away or moved."""

from django import forms
from django.core.exceptions import ValidationError

from ..choices import StockReason
from ..limits import CABLE_LENGTH, DAY_PASSED, SETS, SHELF_COUNT
from ..models.stock import LOT_LENGTH, Pile
from ..validators import REASON_LENGTH, check_line
from .fields import CountField, DayField, NumberField
from .record_forms import LARGEST_VERSION, StateFilter, reason_field, word_choices
from .submissions import OnceForm

NOT_SAID = "not said"


def depot_field(label="Depot"):
    return forms.ModelChoiceField(None, label=label, required=False, to_field_name="name", empty_label=NOT_SAID)


def lot_field(**kwargs):
    widget = forms.TextInput(attrs={"autocomplete": "off", "list": "lots"})
    help_text = "As it stands on the bag or the delivery note. A bad lot is found by it."
    given = {"label": "Lot", "required": False, "max_length": LOT_LENGTH, "help_text": help_text} | kwargs
    return forms.CharField(validators=[check_line], widget=widget, **given)


def note_field():
    return forms.CharField(
        label="Note",
        required=False,
        max_length=REASON_LENGTH,
        validators=[check_line],
        help_text="Such as the delivery.",
    )


class ReceiveForm(OnceForm):
    """Cables of one kind that came; gives a pile."""

    cable_type = forms.ModelChoiceField(None, to_field_name="name", empty_label="choose")
    length_m = NumberField(label="Length in m", limit=CABLE_LENGTH)
    count = CountField(label="How many", limit=SHELF_COUNT)
    depot = depot_field()
    lot = lot_field()
    day = DayField(label="Came on", limit=DAY_PASSED)
    note = note_field()

    def __init__(self, *args, cable_types, depots, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["cable_type"].queryset = cable_types
        self.fields["depot"].queryset = depots

    @property
    def act_values(self):
        values = self.cleaned_data
        pile = Pile(values["cable_type"], values["length_m"], values["depot"], values["lot"])
        return {"pile": pile} | {name: values[name] for name in ("count", "day", "note")}


class ReceiveSetForm(OnceForm):
    """Sets that came, each of one cable per position of a design."""

    design = forms.ModelChoiceField(None, to_field_name="code", empty_label="choose")
    count = CountField(label="How many sets", limit=SETS)
    depot = depot_field()
    lot = lot_field()
    day = DayField(label="Came on", limit=DAY_PASSED)
    note = note_field()

    def __init__(self, *args, designs, depots, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["design"].queryset = designs
        self.fields["depot"].queryset = depots


class KindForm(OnceForm):
    """An act on what lies there of one kind: a number for each pile, a tick for each cable with a serial.

    `seen`: the number of the newest entry of the ledger that the page showed.
    """

    number_label, tick_label = "", ""
    seen = forms.IntegerField(max_value=LARGEST_VERSION, widget=forms.HiddenInput)

    def __init__(self, *args, kind, piles, cables, depots, seen, **kwargs):
        super().__init__(*args, **kwargs)
        self.kind, self.piles, self.cables = kind, piles, cables
        self.initial["seen"] = seen
        for there in piles:
            label = f"{self.number_label}, {there.pile.where}{f', lot {there.pile.lot}' if there.pile.lot else ''}"
            self.fields[f"pile-{there.first}"] = CountField(label=label, required=False, limit=SHELF_COUNT)
        for cable in cables if self.tick_label else ():
            self.fields[f"cable-{cable.pk}"] = forms.BooleanField(label=f"{cable}", required=False)
        if "to" in self.fields:
            self.fields["to"].queryset = depots

    @property
    def pile_rows(self):
        """(pile, its field) as the page lists them."""
        return [(there, self[f"pile-{there.first}"]) for there in self.piles]

    @property
    def cable_rows(self):
        return [(cable, self[f"cable-{cable.pk}"]) for cable in self.cables] if self.tick_label else []

    @property
    def others(self):
        """The fields below the rows."""
        of_rows = {field.name for _, field in [*self.pile_rows, *self.cable_rows]}
        return [field for field in self.visible_fields() if field.name not in of_rows]

    def counts(self):
        """{pile: the number that was written}; a pile without a number is left out."""
        written = ((there.pile, self.cleaned_data.get(f"pile-{there.first}")) for there in self.piles)
        return {pile: number for pile, number in written if number is not None}

    def ticked(self):
        return [cable for cable in self.cables if self.cleaned_data.get(f"cable-{cable.pk}")]

    @property
    def act_values(self):
        said = {name: self.cleaned_data[name] for name in ("to", "day", "note", "reason") if name in self.fields}
        return {"counts": self.counts(), "segments": self.ticked(), "seen": self.cleaned_data["seen"]} | said

    def clean(self):
        values = super().clean()
        if not self.errors and not self.counts() and not self.ticked() and not self.says_more():
            raise ValidationError(self.nothing, code="empty")
        return values

    def says_more(self):
        """Whether something is said beside the rows."""
        return False

    def renew_version(self, row):
        """What the page that answers shows is what lies there now."""
        self.data = self.data.copy()
        self.data["seen"] = self.initial["seen"]


class CountForm(KindForm):
    """What somebody counted. A pile that was not counted stays as it is."""

    number_label, tick_label = "Counted", "not there"
    nothing = "Write what you counted, at one place at least."

    found = CountField(label="Found where none should be", required=False, limit=SHELF_COUNT)
    to = depot_field("Found at")
    lot = lot_field(label="Lot of those found", help_text="")
    reason = reason_field("Why it differs", required=False, placeholder="nobody knows", autocomplete="off")

    def says_more(self):
        return bool(self.cleaned_data.get("found"))

    @property
    def act_values(self):
        values = super().act_values
        return {name: values[name] for name in ("counts", "segments", "seen", "reason")}

    def counts(self):
        """With those that were found where no pile is."""
        counts, found = super().counts(), self.cleaned_data.get("found")
        if not found:
            return counts
        return counts | {Pile(self.kind.cable_type, self.kind.length_m, self.found_at, self.found_lot): found}

    @property
    def found_at(self):
        return self.cleaned_data.get("to")

    @property
    def found_lot(self):
        return self.cleaned_data.get("lot", "")

    def clean(self):
        values = super().clean()
        if values.get("found") and (self.found_at, self.found_lot) in [(t.pile.depot, t.pile.lot) for t in self.piles]:
            self.add_error("found", "Some lie there already: write at that place above how many there are in all.")
        return values


class MoveForm(KindForm):
    """What goes to another depot."""

    number_label, tick_label = "Move", "move"
    nothing = "Write how many go, or tick the cables that go."

    to = depot_field("To")
    day = DayField(label="Moved on", limit=DAY_PASSED)
    note = note_field()


class ScrapForm(KindForm):
    """Cables without a serial that are thrown away; of one with a serial its own page says so."""

    number_label = "Throw away"
    nothing = "Write how many are thrown away."

    day = DayField(label="Thrown away on", limit=DAY_PASSED)
    reason = reason_field("Why")


class LotFilter(StateFilter):
    state = None
    find = forms.CharField(required=False, label="Lot has", max_length=LOT_LENGTH)


class LotForm(StateFilter):
    """Which lot a page is about."""

    state = None
    lot = forms.CharField(required=False, label="Lot", max_length=LOT_LENGTH)

    @property
    def named(self):
        return self.chosen().get("lot", "")


class LedgerFilter(StateFilter):
    state = None
    find = forms.CharField(required=False, label="Lot, serial or note has", max_length=60)
    cable_type = forms.ModelChoiceField(None, required=False, to_field_name="name", empty_label="all types")
    depot = forms.ModelChoiceField(None, required=False, to_field_name="name", empty_label="all depots")
    reason = forms.ChoiceField(required=False, choices=[("", "all reasons"), *word_choices(StockReason)])

    def __init__(self, data, *, cable_types, depots):
        super().__init__(data)
        self.fields["cable_type"].queryset = cable_types
        self.fields["depot"].queryset = depots
