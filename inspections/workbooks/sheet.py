"""What a spreadsheet shows: its sheets as arrays of texts. Nothing here knows what they mean."""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np


class CellKind(IntEnum):
    """What stands in a cell, as the spreadsheet keeps it."""

    EMPTY = 0
    TEXT = 1
    NUMBER = 2
    DAY = 3
    MONTH = 4
    YES_NO = 5
    TIME = 6
    ERROR = 7


@dataclass(frozen=True, eq=False)
class Sheet:
    """One sheet, from its first cell (A1) to the last row and column that hold anything; both count from 0.

    `texts` is an object array rows × columns of str, each cell as it is shown:
    EMPTY "" · TEXT as it stands, and a number whose format makes a code of it (`004711`, `M-017`) · NUMBER plain
    decimal text with a point in full precision, whatever its format rounds or adds (`3.2461`, of `3.2 dB`) · DAY
    `2026-05-03`, with ` 14:30` behind it where the cell shows a time that is not midnight · MONTH `May 2024`, a day
    of which the cell shows month (and year) only · YES_NO `yes` or `no` · TIME `14:30`, `36:15:00` · ERROR `#REF!`.
    A day shown as its year alone is the TEXT `2024`.
    `kinds` is a uint8 array of the same shape, of CellKind.
    `merged` holds (first row, first column, last row, last column), all within; only the first cell has a text.
    """

    name: str
    hidden: bool
    texts: np.ndarray
    kinds: np.ndarray
    merged: tuple[tuple[int, int, int, int], ...] = ()


@dataclass(frozen=True, eq=False)
class Workbook:
    """All sheets of a file, in their order; a CSV file is one sheet of the file's name. `sha256` is of its bytes."""

    sheets: tuple[Sheet, ...]
    sha256: str
    file: str


class WorkbookRefused(ValueError):
    """The file cannot be read; its text is one sentence for people that says what it is and what to do."""
