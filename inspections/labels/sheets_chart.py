"""Labels laid out on sheets: where each code and each line of text stands, in mm."""

from dataclasses import dataclass

from fleet.qr_chart import QrCode, qr_code

from .fitted_chart import FittedText, fit_signs, fit_words
from .grid_choices import LabelGrid

# white at the edges of a label, where knives and printers miss by as much; small labels have less to spare
INSET_MM, SMALL_INSET_MM, SMALL_MM = 2.0, 1.2, 22.0
BETWEEN_MM = 1.5
# a larger code is read from no farther away by anybody who stands beside a mat
LARGEST_CODE_MM = 38.0
LARGEST_NAME_MM, LARGEST_LINE_MM, LARGEST_ADDRESS_MM = 16.0, 3.6, 2.6
# a label that is wider than so many times its height has its text beside the code, any other below it
BESIDE = 1.25
# of the height for text: the name, what it is, the address
NAME_PART, LINE_PART, ADDRESS_PART = 0.5, 0.2, 0.3
# Squares of a code that are smaller are missed by some phones; common practice, no source.
SMALLEST_SQUARE_MM = 0.33


@dataclass(frozen=True)
class Label:
    """What stands on one: the mat number or serial, what it is, and the address of its page."""

    name: str
    line: str
    address: str


@dataclass(frozen=True)
class TextLine:
    """A line of text: its left end and base line, and its height, in mm."""

    text: str
    x: float
    y: float
    size: float


@dataclass(frozen=True)
class PlacedLabel:
    """A label on its sheet: its outline, its code of `scale` mm a square, and its lines of text."""

    label: Label
    x: float
    y: float
    width: float
    height: float
    qr: QrCode
    qr_x: float
    qr_y: float
    scale: float
    name: tuple[TextLine, ...]
    line: tuple[TextLine, ...]
    address: tuple[TextLine, ...]


@dataclass(frozen=True)
class LabelSheet:
    """One sheet of paper. `height` is that of its drawing: a hair less, else a browser adds an empty page."""

    number: int
    width: float
    height: float
    labels: tuple[PlacedLabel, ...]


A_HAIR_MM = 0.2


def label_sheets(labels, grid, *, first=1, shift_mm=(0.0, 0.0)):
    """The labels along the rows of as many sheets as they take.

    `first`: the label of the first sheet to begin with, from 1. `shift_mm`: (right, down), by which a printer misses.
    """
    places = list(enumerate(labels, start=first - 1))
    width, height = grid.paper_mm
    drawn = {label: _drawn(label, grid) for label in dict.fromkeys(labels)}
    sheets = []
    for number in range(-(-(first - 1 + len(labels)) // grid.size)):
        of_sheet = [(place - number * grid.size, each) for place, each in places if place // grid.size == number]
        placed = tuple(drawn[each].at(*_shifted(grid.corner(place), shift_mm)) for place, each in of_sheet)
        sheets.append(LabelSheet(number + 1, width, height - A_HAIR_MM, placed))
    return sheets


def _shifted(corner, shift_mm):
    return corner[0] + shift_mm[0], corner[1] + shift_mm[1]


@dataclass(frozen=True)
class _Drawn:
    """A label as it stands at the upper left corner of the paper."""

    label: Label
    grid: LabelGrid
    qr: QrCode
    side: float
    qr_at: tuple[float, float]
    text_at: tuple[float, float]
    name: FittedText
    line: FittedText | None
    address: FittedText

    def at(self, x, y):
        left, top = x + self.text_at[0], y + self.text_at[1]
        laid = []
        for fitted in (self.name, self.line, self.address):
            laid.append(_lines(fitted, left, top) if fitted else ())
            top += fitted.height_mm if fitted else 0
        return PlacedLabel(
            self.label,
            x,
            y,
            self.grid.width_mm,
            self.grid.height_mm,
            self.qr,
            x + self.qr_at[0],
            y + self.qr_at[1],
            self.side / self.qr.side,
            *laid,
        )


def _lines(fitted, left, top):
    step = fitted.height_mm / len(fitted.lines)
    return tuple(
        TextLine(text, left, top + index * step + 0.9 * fitted.size_mm, fitted.size_mm)
        for index, text in enumerate(fitted.lines)
    )


def _drawn(label, grid):
    qr = qr_code(label.address)
    inset = SMALL_INSET_MM if grid.height_mm < SMALL_MM else INSET_MM
    width, height = grid.width_mm - 2 * inset, grid.height_mm - 2 * inset
    if grid.width_mm >= BESIDE * grid.height_mm:
        side = min(height, LARGEST_CODE_MM, width / 2)
        corner, room = (inset + side + BETWEEN_MM, inset), (width - side - BETWEEN_MM, height)
        qr_at = (inset, inset + (height - side) / 2)
    else:
        side = min(width, LARGEST_CODE_MM, height * 0.6)
        corner, room = (inset, inset + side + BETWEEN_MM), (width, height - side - BETWEEN_MM)
        qr_at = (inset + (width - side) / 2, inset)
    texts = _texts(label, *room)
    used = sum(text.height_mm for text in texts if text)
    text_at = (corner[0], corner[1] + max(0.0, (room[1] - used) / 2))
    return _Drawn(label, grid, qr, side, qr_at, text_at, *texts)


def _texts(label, width, height):
    name = fit_words(label.name, width, height * NAME_PART, largest_mm=LARGEST_NAME_MM)
    line = fit_words(label.line, width, height * LINE_PART, largest_mm=LARGEST_LINE_MM) if label.line else None
    return name, line, fit_signs(label.address, width, height * ADDRESS_PART, largest_mm=LARGEST_ADDRESS_MM)
