"""The part of the page that asks about one sheet: what it holds, where its table stands, what its columns mean."""

from dataclasses import replace

from django import forms
from django.utils import timezone

from fleet.parsing.counts import listed
from fleet.parsing.day_orders import DayOrder
from fleet.parsing.rough_days import read_rough_day

from ..meanings import FIELD_WORDS, KIND_WORDS, OF_MANY, SheetKind, SheetMeaning
from ..reading.sheet_texts import day_without_year
from .build_forms import BuildForm
from .proposals import propose_sheet
from .questions import builds_to_ask, lacks_day
from .said_columns import LEFT_OUT, choices_of, columns_said, said_of
from .shown_columns import shown_columns
from .table_places import place_with

_FIRST_YEAR, _LAST_YEAR = 1980, 2100
_MOST_FIGURES = 9


class SheetForm(forms.Form):
    """What is said of one sheet. `meaning` is what the page shows: its columns and their choices follow from it."""

    kind = forms.ChoiceField(label="What it holds", choices=[(kind.value, KIND_WORDS[kind]) for kind in SheetKind])
    header_row = forms.IntegerField(
        label="Row of the headings", required=False, min_value=1, help_text="Empty: it has none."
    )
    last_row = forms.IntegerField(label="Last row that counts", min_value=1)
    year = forms.IntegerField(required=False, min_value=_FIRST_YEAR, max_value=_LAST_YEAR)
    day = forms.CharField(
        label="Day of these readings",
        required=False,
        max_length=40,
        help_text="No column says it. Left empty, it is asked of each reading later.",
    )
    shown = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, data, *, sheet, meaning, known, prefix):
        super().__init__(data, prefix=prefix, initial=_initial(meaning))
        self.sheet, self.meaning, self.known = sheet, meaning, known
        self.columns, self.more = shown_columns(sheet, meaning, meaning.kind)
        for column in self.columns if meaning.is_taken else ():
            self.fields[_name(column)] = forms.ChoiceField(
                required=False, choices=choices_of(meaning.kind), initial=said_of(meaning, column)
            )
            self.fields[_name(column)].widget.attrs["aria-label"] = f"What column {column.letters} says"
        self.said_so_far = said = meaning if data is None else replace(meaning, columns=self._columns_sent())
        self.builds = [
            BuildForm(data, asked, prefix=prefix, said=meaning.answers.get("builds", {}).get(asked.name))
            for asked in builds_to_ask(sheet, said, known)
        ]
        self.asks_day = lacks_day(sheet, said)
        if day := day_without_year(sheet, said):
            self.fields["year"].required = True
            self.fields["year"].label = f"Year of “{day}”"
            self.fields["year"].error_messages["required"] = f"“{day}” can be in any year. Say in which."

    def _columns_sent(self):
        return columns_said(self.columns, [self.data.get(self.add_prefix(_name(c)), "") for c in self.columns])

    @property
    def rows(self):
        """(ShownColumn, its field) of each column, in their order; None for a field of a sheet that is not taken."""
        return [(column, self[_name(column)] if self.meaning.is_taken else None) for column in self.columns]

    def is_valid(self):
        return all([super().is_valid(), *(build.is_valid() for build in self.builds)])

    @property
    def is_wrong(self):
        """Whether this part needs a second look."""
        return bool(self.errors) or any(build.errors for build in self.builds)

    def clean(self):
        header, last = self.cleaned_data.get("header_row") or 0, self.cleaned_data.get("last_row")
        most = max(len(self.sheet.texts), 1)
        for name, row in (("header_row", header), ("last_row", last or 0)):
            if row > most:
                self.add_error(name, f"The sheet ends with row {most}.")
        if last and header >= last and self.meaning.is_taken:
            self.add_error("last_row", "It lies below the headings.")

    @property
    def is_turned(self):
        """Whether another kind or other rows were chosen than the page showed, so that its columns are others."""
        said = [self.cleaned_data.get(name) for name in ("kind", "header_row", "last_row")]
        is_other = _mark(*said) != self.data.get(self.add_prefix("shown"))
        return is_other and not self.errors and said[0] != SheetKind.LEFT_OUT

    @property
    def row_count(self):
        """Rows below the headings that hold anything."""
        rows = self.meaning.rows
        return int(self.sheet.kinds[rows.start : rows.stop].any(axis=1).sum())

    @property
    def asks_year(self):
        return self.fields["year"].required

    @property
    def asks_more(self):
        """Whether builds are to be asked about that the page did not show."""
        return any(not build.was_shown for build in self.builds)

    def clean_day(self):
        text = self.cleaned_data["day"].strip()
        try:
            if text and not read_rough_day(text, timezone.localdate(), DayOrder.NOT_SAID).exact:
                raise ValueError("Write the day itself, such as 12 March 2024.")
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error
        return text

    def check(self):
        """Say what is missing, or said twice, of a sheet that is taken."""
        said = self.said()
        for group in said.missing:
            words = ", or ".join(f"“{FIELD_WORDS[name]}”" for name in group)
            self.add_error(None, f"Say of one column that it is: {words}. Or take the sheet for another kind.")
        for name in sorted(said.fields - OF_MANY):
            letters = [column.letters for column in self.columns if said_of(said, column) == name]
            if len(letters) > 1:
                self.add_error(
                    None, f"Columns {listed(letters)} are all “{FIELD_WORDS[name]}”. Only one of them can be."
                )

    def said(self):
        """The SheetMeaning that was said."""
        kind = SheetKind(self.cleaned_data.get("kind", self.meaning.kind))
        words = [self.cleaned_data.get(_name(column), LEFT_OUT) for column in self.columns]
        columns = columns_said(self.columns, words) if kind != SheetKind.LEFT_OUT else ()
        return replace(self.meaning, kind=kind, columns=columns, answers=self._answers())

    def _answers(self):
        year = self.cleaned_data.get("year")
        builds = {build.asked.name: build.said for build in self.builds if build.is_valid() and build.said}
        day = self.cleaned_data.get("day") if self.asks_day else ""
        said = {"year": str(year) if year else "", "day": day, "builds": builds}
        return {name: value for name, value in said.items() if value}

    def turned(self):
        """What is proposed for the kind and the rows that were chosen."""
        header, last = self.cleaned_data["header_row"], self.cleaned_data["last_row"]
        place = place_with(self.sheet, None if header is None else header - 1, last)
        return propose_sheet(self.sheet, place, self.known, SheetKind(self.cleaned_data["kind"]))


def meaning_shown(data, prefix, sheet):
    """The SheetMeaning, without its columns, that the page showed from which this came; None where it says none."""
    kind, header, last, *_ = *data.get(f"{prefix}-shown", "").split("|"), "", ""
    most = len(sheet.texts)
    if kind not in set(SheetKind) or not _is_row(last) or not (_is_row(header) or header == ""):
        return None
    if int(header or 0) > most or not 1 <= int(last) <= max(most, 1):
        return None
    place = place_with(sheet, int(header) - 1 if header else None, int(last))
    return SheetMeaning(sheet.name, SheetKind(kind), place.header_row, place.first_row, place.end_row)


def _is_row(text):
    return text.isdecimal() and len(text) < _MOST_FIGURES


def _initial(meaning):
    header = None if meaning.header_row is None else meaning.header_row + 1
    said = {"kind": meaning.kind.value, "header_row": header, "last_row": max(meaning.end_row, 1)}
    answers = {name: meaning.answers.get(name) for name in ("year", "day")}
    return said | answers | {"shown": _mark(*said.values())}


def _mark(kind, header_row, last_row):
    """By which a form that comes back knows what its page showed."""
    return f"{kind}|{header_row or ''}|{last_row}"


def _name(column):
    return f"column{column.indexes[0]}"
