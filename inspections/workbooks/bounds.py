"""How much of a file is read: looked at before it is parsed, or while it is counted, since what it says may lie."""

from dataclasses import dataclass

from .sheet import WorkbookRefused

MOST_UNPACKED_BYTES = 256 * 2**20
MOST_PARTS = 2_000
MOST_SHEETS = 200
# all sheets together, each counted up to its last row and column that hold something
MOST_CELLS = 5_000_000
MOST_COLUMNS = 5_000
# the most that a spreadsheet program takes into one cell
LONGEST_TEXT = 32_767
# the last cell of an .xlsx is XFD1048576
LAST_ROW, LAST_COLUMN = 1_048_576, 16_384
# characters of all cells together: one text of a file may stand in each of a million cells
MOST_TEXT = 100_000_000


@dataclass
class Bounds:
    """What the sheets of one file have come to. Each method raises WorkbookRefused where that is too much."""

    file: str
    cells: int = 0
    text: int = 0

    def take_cells(self, sheet, rows, columns):
        """Count a sheet of that many rows and columns."""
        self.look_at(sheet, rows, columns)
        self.cells += rows * columns

    def look_at(self, sheet, rows, columns):
        """Whether a sheet of that many would still be read."""
        if columns > MOST_COLUMNS or self.cells + rows * columns > MOST_CELLS:
            raise WorkbookRefused(
                f"{self.file}: the sheet “{shortened(sheet)}” reaches to cell {cell_name(rows - 1, columns - 1)}. At "
                f"most {MOST_COLUMNS:,} columns and {MOST_CELLS:,} cells of all sheets together are read. Delete what "
                "stands far to the right or far below, or save the part that is needed as a file of its own."
            )

    def take_text(self, sheet, row, column, length):
        """Count the characters of a cell."""
        if length > LONGEST_TEXT:
            raise WorkbookRefused(
                f"{self.file}: cell {cell_name(row, column)} of the sheet “{shortened(sheet)}” holds {length:,} "
                f"characters. At most {LONGEST_TEXT:,} in one cell are read. Shorten it."
            )
        self.text += length
        if self.text > MOST_TEXT:
            raise WorkbookRefused(
                f"{self.file} holds more than {MOST_TEXT:,} characters of text, the most that are read. Save the part "
                "that is needed as a file of its own."
            )

    def take_sheets(self, count):
        if count > MOST_SHEETS:
            raise WorkbookRefused(
                f"{self.file} holds {count:,} sheets. At most {MOST_SHEETS} are read: delete those that are not needed."
            )


def cell_name(row, column):
    """`C5` of row 4, column 2: how a spreadsheet names its cells."""
    return f"{column_letters(column)}{row + 1}"


def column_letters(column):
    """A, B … Z, AA, as spreadsheets count columns."""
    letters, rest = "", column + 1
    while rest:
        rest, place = divmod(rest - 1, 26)
        letters = chr(ord("A") + place) + letters
    return letters


def shortened(text, most=40):
    return text if len(text) <= most else f"{text[:most]}…"
