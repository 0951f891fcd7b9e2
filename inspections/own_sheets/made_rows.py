"""What the page shows of what will be made: cells to be mended where they stand in the sheets, columns that differ."""

import re
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property

from fleet.figures import short_day

from ..files.sets import FILE_NAMES, LAYOUTS
from .shown_columns import letter
from .table_places import headings_of

# fields of a form are limited, and so is what somebody looks through
MOST_CELLS, MOST_NAMED = 200, 4
_LINE = re.compile(r"\bline (\d+)\b")
_LAYOUTS = {layout.file: layout for layout in LAYOUTS}


@dataclass(frozen=True)
class Cell:
    """One cell of a sheet, as a row of a table: where it stands, what is wrong, and what stands there by now.

    `column` is None where the app made what is wrong; then there is nothing to mend but the row. `more`: how many
    other things are wrong there.
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

    @property
    def row_number(self):
        return self.row + 1

    @property
    def letters(self):
        return "" if self.column is None else letter(self.column)

    @property
    def name(self):
        """Of the field that mends it."""
        return f"cell-{self.sheet_number}-{self.row}-{self.column}"

    @property
    def leave_name(self):
        """Of the tick that leaves its row out."""
        return f"leave-{self.sheet_number}-{self.row}"

    @property
    def label(self):
        where = f"column {self.letters}, " if self.letters else ""
        return f"{self.sheet}, {where}row {self.row_number}"


@dataclass(frozen=True)
class Example:
    """One row that differs: of what, in words, and what both say, as text."""

    whose: str
    stored: str
    given: str


@dataclass(frozen=True)
class DifferingColumn:
    """A column that differs, or what follows it, in so many rows (`count`), of which `changes` are corrected."""

    file: str
    column: str
    words: str
    count: int
    changes: int
    examples: tuple[Example, ...]
    answer: str
    stays: bool

    @property
    def name(self):
        return f"differ:{self.file}:{self.column}"

    @property
    def more(self):
        return self.count - len(self.examples)


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
            self._cell(each.sheet, each.row, each.column, each.cell, each.expected)
            for each in self.made.understood.unread
        ]

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
        found = {}
        for difference in self.made.files.differences:
            column = _LAYOUTS[difference.file].column(difference.column)
            found.setdefault((difference.file, column.follows or column.name), []).append(difference)
        return [self._column(*key, rows) for key, rows in sorted(found.items(), key=lambda each: _place(*each[0]))]

    @property
    def may_choose(self):
        return not all(column.stays for column in self.differing)

    @cached_property
    def kinds(self):
        """(words, count) of what will be made, a kind each: count as `Made.counts` has it."""
        words = {file: _LAYOUTS[file].model._meta.verbose_name_plural for file in self.made.counts}
        return [(words[file][0].upper() + words[file][1:], count) for file, count in self.made.counts.items()]

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

    def _column(self, file, name, differences):
        layout = _LAYOUTS[file]
        column, rows = layout.column(name), {}
        for difference in differences:
            rows.setdefault(difference.row, []).append(difference)
        field = column.related or column.field
        return DifferingColumn(
            file,
            name,
            f"{layout.model._meta.verbose_name_plural.capitalize()}: {field.verbose_name}",
            len(rows),
            sum(any(each.changes for each in row) for row in rows.values()),
            tuple(_example(layout, row) for row in list(rows.values())[:MOST_NAMED]),
            self.made.files.differing.answer(file, column),
            column.stays or layout.stays,
        )


def cell_text(sheet, row, column):
    """What stands in a cell; "" outside of the sheet."""
    rows, columns = sheet.texts.shape
    return sheet.texts[row, column].strip() if row < rows and column < columns else ""


def _example(layout, differences):
    columns = [layout.column(each.column) for each in differences]
    stored = [_shown(column, each.stored) for column, each in zip(columns, differences, strict=True)]
    given = [_shown(column, each.given) for column, each in zip(columns, differences, strict=True)]
    whose = ", ".join(map(_plain, differences[0].key))
    return Example(whose, ", ".join(filter(None, stored)) or "nothing", ", ".join(filter(None, given)) or "nothing")


def _shown(column, value):
    return _plain(value) if isinstance(value, date) else column.write(value)


def _plain(part):
    return short_day(part) if isinstance(part, date) else str(part)


def _place(file, column):
    layout = _LAYOUTS[file]
    return FILE_NAMES.index(file), layout.names.index(column)
