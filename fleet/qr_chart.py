"""An address as a code that a phone reads, drawn."""

from dataclasses import dataclass
from itertools import groupby

import segno

# a quarter of it may be dirty or torn
CORRECTION = "q"
# as much white around it as a reader wants to see
BORDER = 4


@dataclass(frozen=True)
class QrCode:
    """`path` draws its dark squares, each of one unit, inside a square of `side` units."""

    side: int
    path: str


def qr_code(address):
    rows = [list(row) for row in segno.make_qr(address, error=CORRECTION).matrix]
    runs = (run for y, row in enumerate(rows) for run in _dark_runs(row, y))
    return QrCode(len(rows) + 2 * BORDER, "".join(f"M{x + BORDER} {y + BORDER}h{n}v1h-{n}z" for x, y, n in runs))


def _dark_runs(row, y):
    x = 0
    for is_dark, squares in groupby(row):
        length = len(list(squares))
        if is_dark:
            yield x, y, length
        x += length
