"""What the page shows of what will be made: cells to be mended where they stand in the sheets, columns that differ."""

import re
from dataclasses import dataclass, replace
from functools import cached_property

from ...files.differing_columns import differing_columns
from ...files.sets import FILE_NAMES, LAYOUTS
from ...workbooks.bounds import column_letters
from ..columns.table_places import headings_of

# fields of a form are limited, and so is what somebody looks through
MOST_CELLS = 200
_LINE = re.compile(r"\bline (\d+)\b")
_LAYOUTS = {layout.file: layout for layout in LAYOUTS}


@dataclass(frozen=True)
class Cell:
    """One cell of a sheet, as a row of a table: where it stands, what is wrong, and what stands there by now.

    `column` is None where the app made what is wrong; then there is nothing to mend but the row. `more`: how many
    other things are wrong there. `choices`: texts of which one is likely meant.
    `hanging`: how many rows stay out whole with it.
    """

    sheet: str
    sheet_number: int
    row: int
    column: int | None
    heading: str
    found: str
    expected: str
    text: str
    is_left: bool = False
    more: int = 0
    choices: tuple[str, ...] = ()
    hanging: int = 0

    @property
    def row_number(self):
        return self.row + 1

    @property
    def letters(self):
        return "" if self.column is None else column_letters(self.column)

    @property
    def name(self):
        """Of the field that mends it."""
        return f"cell-{self.sheet_number}-{self.row}-{self.column}"

    @property
    def pick_name(self):
        """Of the field by which one of `choices` is taken for it."""
        return f"pick-{self.sheet_number}-{self.row}-{self.column}"

    @property
    def leave_name(self):
        """Of the tick that leaves its row out."""
        return f"leave-{self.sheet_number}-{self.row}"

    @property
    def label(self):
        where = f"column {self.letters}, " if self.letters else ""
        return f"{self.sheet}, {where}row {self.row_number}"


class MadeRows:
    """The parts of the page, of a `Made`."""

    def __init__(self, made):
        self.made = made
        self._sheets = {sheet.name: (number, sheet) for number, sheet in enumerate(made.workbook.sheets)}
        self._header_rows = {meaning.sheet: meaning.header_row for meaning in made.meanings}
        self._headings = {}

    @cached_property
    def unread(self):
        """Cells that could not be read."""
        return [
            replace(
                self._cell(each.sheet, each.row, each.column, each.cell, each.expected),
                choices=each.choices,
                hanging=self.made.understood.hanging.get((each.sheet, each.row, each.column), 0),
            )
            for each in self.made.understood.unread
        ]

    @property
    def hanging(self):
        """How many rows stay out whole with what could not be read."""
        return sum(cell.hanging for cell in self.unread)

    @property
    def kept(self):
        """How many cells of the sheets say something else than is stored, and change nothing."""
        return sum(column.kept for column in self.differing)

    @cached_property
    def errors(self):
        return self._of_findings(self.made.files.errors)

    @cached_property
    def unusual(self):
        return self._of_findings(self.made.files.unusual)

    @cached_property
    def warnings(self):
        return self._of_findings(self.made.files.warnings)

    @cached_property
    def mended(self):
        """Cells that were mended and can be read now, and rows that are left out."""
        shown = {(cell.sheet, cell.row, cell.column) for cell in (*self.unread, *self.errors)}
        cells = [
            self._cell(*place, self._original(*place), "")
            for place in self.made.said.cells
            if place not in shown and place[0] in self._sheets
        ]
        left = [(sheet, row) for sheet, row in self.made.said.left if sheet in self._sheets]
        return cells + [replace(self._cell(sheet, row, None, "", ""), is_left=True) for sheet, row in sorted(left)]

    @cached_property
    def differing(self):
        """The DifferingColumns in the order of the files."""
        return differing_columns(self.made.files)

    @property
    def may_choose(self):
        return not all(column.stays for column in self.differing)

    @cached_property
    def kinds(self):
        """(words, count) of what will be made, a kind each: count as `Made.counts` has it."""
        words = {file: _LAYOUTS[file].model._meta.verbose_name_plural for file in self.made.counts}
        kinds = [(words[file][0].upper() + words[file][1:], count) for file, count in self.made.counts.items()]
        made = {"stored": self.made.depots, "already_there": 0}
        return [("Depots", made), *kinds] if self.made.depots else kinds

    def _of_findings(self, findings):
        """Each place once, with how many more findings there are of it: the app makes four cables of one row."""
        places = {}
        for finding in findings.in_order(FILE_NAMES):
            cell = self._of_finding(finding)
            places.setdefault((cell.sheet, cell.row, cell.column), {})[cell.found, cell.expected] = cell
        return [
            replace(cells[0], more=len(cells) - 1)
            for cells in (list(same.values()) for _, same in sorted(places.items(), key=self._in_order))
        ]

    def _in_order(self, place):
        (sheet, row, column), _ = place
        return self._sheets[sheet][0], row, -1 if column is None else column

    def _of_finding(self, finding):
        origin = self.made.understood.origin(finding.file, finding.line)
        column = origin.columns.get(finding.column)
        expected = _LINE.sub(lambda line: self._where(finding.file, int(line[1])), finding.expected)
        found = finding.found if column is not None else f"{finding.column.replace('_', ' ')}: {finding.found}"
        return self._cell(origin.sheet, origin.row, column, found, expected)

    def _where(self, file, line):
        origin = self.made.understood.origin(file, line)
        return f"row {origin.row + 1} of {origin.sheet}"

    def _cell(self, sheet, row, column, found, expected):
        number = self._sheets[sheet][0]
        text = (
            "" if column is None else self.made.said.cells.get((sheet, row, column), self._original(sheet, row, column))
        )
        heading = "" if column is None else self._heading(sheet, column)
        return Cell(sheet, number, row, column, heading, found, expected, text)

    def _original(self, sheet, row, column):
        return cell_text(self._sheets[sheet][1], row, column)

    def _heading(self, sheet, column):
        if sheet not in self._headings:
            self._headings[sheet] = headings_of(self._sheets[sheet][1], self._header_rows.get(sheet))
        headings = self._headings[sheet]
        return headings[column] if column < len(headings) else ""


def cell_text(sheet, row, column):
    """What stands in a cell; "" outside of the sheet."""
    rows, columns = sheet.texts.shape
    return sheet.texts[row, column].strip() if row < rows and column < columns else ""
