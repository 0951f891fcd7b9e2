"""What is said on the page that shows what will be made: mended cells, rows left out, choices for what differs."""

import re

from django import forms
from django.core.exceptions import ValidationError

from fleet.forms.submissions import OnceForm

from ...files.differing_columns import answers_in
from .made_rows import cell_text
from .mending import PROPOSED, Said

LONGEST = 2_000
_CELL = re.compile(r"cell-(\d{1,4})-(\d{1,7})-(\d{1,7})", re.ASCII)
_LEAVE = re.compile(r"asks-leave-(\d{1,4})-(\d{1,7})", re.ASCII)


class MadeForm(OnceForm):
    """Its fields have the names that `made_rows` gives them; those that it does not know are left alone."""

    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def change(self, said, workbook):
        """The Said with what was sent beside what was said before; ValidationError names a text that is too long."""
        cells, left = dict(said.cells), set(said.left)
        for name in self.data:
            if place := _CELL.fullmatch(name):
                picked = self.data.get(name.replace("cell-", "pick-"), "")
                self._mend(cells, workbook, *map(int, place.groups()), picked or self.data[name])
            elif place := _LEAVE.fullmatch(name):
                self._leave(left, workbook, *map(int, place.groups()))
        return Said(cells, frozenset(left), {**said.answers, **self._chosen(said.answers)})

    def _chosen(self, before):
        """{(file, column): Answer} of what somebody chose; what the page proposes and nobody touched is no choice."""
        answers = answers_in(self.data)
        return {column: answer for column, answer in answers.items() if column in before or answer != PROPOSED}

    def _mend(self, cells, workbook, number, row, column, text):
        if number >= len(workbook.sheets):
            return
        sheet, text = workbook.sheets[number], " ".join(text.split())
        place = (sheet.name, row, column)
        if len(text) > LONGEST:
            raise ValidationError(f"{sheet.name}, row {row + 1}: write at most {LONGEST} characters.")
        if text == " ".join(cell_text(sheet, row, column).split()):
            cells.pop(place, None)
        elif row <= sheet.texts.shape[0] and column <= sheet.texts.shape[1]:
            cells[place] = text

    def _leave(self, left, workbook, number, row):
        if number >= len(workbook.sheets):
            return
        place = (workbook.sheets[number].name, row)
        left.discard(place)
        if self.data.get(f"leave-{number}-{row}"):
            left.add(place)
