"""The columns of a sheet as the page shows them: each with its heading and first cells, alike ones as one."""

from dataclasses import dataclass

from ...workbooks.bounds import column_letters
from ..meanings import SheetKind
from .cell_profiles import SHOWN
from .column_fits import columns_of
from .wide_headings import FEWEST, Heading

# more than this nobody looks through; the others are left out, which the page says
MOST_SHOWN = 80
_WIDE = (SheetKind.READINGS_WIDE, SheetKind.CALENDAR)


@dataclass(frozen=True)
class ShownColumn:
    """One column, or several beside each other under days or positions, of which the same is said."""

    indexes: tuple[int, ...]
    headings: tuple[str, ...]
    cells: tuple[str, ...]

    @property
    def letters(self):
        """By which spreadsheets call it: `C`, or `C to N`."""
        first, last = column_letters(self.indexes[0]), column_letters(self.indexes[-1])
        return first if first == last else f"{first} to {last}"

    @property
    def heading(self):
        if len(self.headings) > 1:
            return f"{self.headings[0]} … {self.headings[-1]}"
        return self.headings[0]


def shown_columns(sheet, place, kind):
    """The ShownColumns of the table that stands there, and how many columns more it has."""
    columns = columns_of(sheet, place)
    runs = list(_runs(columns)) if kind in _WIDE else [[column] for column in columns]
    shown = [_shown(run) for run in runs[:MOST_SHOWN]]
    return shown, sum(map(len, runs[MOST_SHOWN:]))


def _runs(columns):
    """Columns beside each other under headings of one kind, where they are more than a few; others each by itself."""
    runs = []
    for column in columns:
        if runs and column.heading_kind is not Heading.OTHER and runs[-1][-1].heading_kind is column.heading_kind:
            runs[-1].append(column)
        else:
            runs.append([column])
    for run in runs:
        yield from [run] if len(run) >= FEWEST else [[column] for column in run]


def _shown(run):
    cells = [text for column in run for text in column.cells.shown]
    return ShownColumn(
        tuple(column.index for column in run),
        tuple(column.heading for column in run),
        tuple(dict.fromkeys(cells))[:SHOWN],
    )
