"""What the sheets of a keeper say, in the tables of our layouts: what is new downstream is nothing.

`understand(workbook, meanings, mended, *, on, known)` of `understanding` makes an `Understood`. Cells of its tables are
texts as our CSV files have them, so that `check_files` takes them like files.
"""

from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from fleet.intake.csv_files import RawTable


@dataclass(frozen=True)
class Origin:
    """Where a row of a table came from: the sheet and its row, counted from 0, as `Sheet` counts.

    `columns` is {column of ours: column of the sheet}, of those whose cell the sheet itself holds; what the app made
    is in none. `row` is that of a mat where cables were made for it.
    """

    sheet: str
    row: int
    columns: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True)
class Unread:
    """A cell that could not be read; the rest of its row went on where it could. `expected` says what to write.

    `column` is the sheet's. Its new text goes into `mended` under (sheet, row, column).
    `choices`: texts of which one is likely meant.
    """

    sheet: str
    row: int
    column: int
    cell: str
    expected: str
    choices: tuple[str, ...] = ()


class Assumption(StrEnum):
    """What the app took on itself; each word is a sentence of `assumed_text`, with the values that it names."""

    SAME_MAT = "same mat"
    DEPOT = "depot"
    TAKEN_BUILD = "taken build"
    NEW_BUILD = "new build"
    ESTIMATED_LENGTHS = "estimated lengths"
    NO_LENGTHS = "no lengths"
    NO_BUILD = "no build"
    CABLE_TYPE = "cable type"
    MADE_CABLES = "made cables"
    OUT_OF_USE = "out of use"
    NOT_LATER = "not later than"
    RUNNING_NUMBERS = "running numbers"
    TAKEN_PLACES = "taken places"
    POSITIONS = "positions"
    CHANGED_CABLES = "changed cables"
    SAME_CABLES = "same cables"
    EARLIER_CABLES = "earlier cables"
    THROWN_AWAY = "thrown away"
    LEFT_CABLES = "left cables"
    WET = "wet"
    USUAL = "usual"
    LEFT_OUT = "left out"
    INSTRUMENT = "instrument"


@dataclass(frozen=True)
class Assumed:
    """One assumption about many rows: `values` are what its sentence names, `count` of how many it holds.

    `values["names"]` are those that it holds of, in the order of the sheets.
    """

    what: Assumption
    count: int
    values: dict


@dataclass(frozen=True)
class RoughDay:
    """A day that is only roughly known: as it was written, between which days it lies, and which is stored for it.

    `field`: that of `meanings` which says it. `about`: whether it is stored as a rough one; else as its middle, which a
    note explains where it is `noted`. `names`: of which mats, cables or events, each once.
    """

    text: str
    field: str
    first: date
    last: date
    day: date
    about: bool
    names: tuple[str, ...]
    noted: bool = False


@dataclass(frozen=True)
class Understood:
    """`origins[file][i]` is where row i of `tables[file]` came from; its `lines[i]` is i + 2, as in a CSV.

    `hanging`: {place of an unread cell: how many rows of its sheet stay out whole with it}.
    """

    tables: dict[str, RawTable]
    origins: dict[str, list[Origin]]
    unread: list[Unread]
    assumed: list[Assumed]
    rough: list[RoughDay] = field(default_factory=list)
    hanging: dict[tuple[str, int, int], int] = field(default_factory=dict)

    def origin(self, file, line):
        """The Origin of the row at this line of the file; None for the header."""
        return self.origins[file][line - 2] if line >= 2 else None
