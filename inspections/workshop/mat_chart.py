"""A mat drawn to scale, its feed end at the left."""

from dataclasses import dataclass

from django.utils.text import slugify

from fleet.figures import two_places
from fleet.templatetags.lengths import in_m

WIDTH = 1100
LEFT, RIGHT, TOP = 56, 1084, 4
ROW = 24
# where many cables must share a sheet of paper with everything else
TIGHT_ROW = 13.5
FOLD_LABEL_ROOM = 64
FOLD_LABEL_ROWS = 3
LINE_OF_TEXT = 18
# room that a character takes at most, on paper where letters are larger
CHARACTER = 8
PLATES_APART, HIGHEST_PLATE = 2, 18


@dataclass(frozen=True)
class PositionToDraw:
    """What the drawing shows of one position: `length_m` of the cable in it, else of the design,
    `estimated`: nobody measured it.

    `status` is one of the six in words, '' for none; `marked`: filled, to be changed; `empty`: holds no cable.
    """

    number: int
    length_m: float
    label: str = ""
    status: str = ""
    marked: bool = False
    empty: bool = False
    estimated: bool = False

    @property
    def length(self):
        return in_m(self.length_m, self.estimated)

    @property
    def beside(self):
        """What stands beside its mark behind its number, where there is little room."""
        length = f"{two_places(self.length_m)} m{' est.' if self.estimated else ''}"
        return ", ".join(filter(None, [length, self.label]))

    @property
    def kind(self):
        """The name of the mark that shows its status; '' for none."""
        return "change-now" if self.marked else slugify(self.status)

    @property
    def status_and_label(self):
        return ", ".join(filter(None, ["to change" if self.marked else self.status, self.label]))

    @property
    def said(self):
        """The whole position as a sentence."""
        what = filter(None, [self.length, self.status_and_label])
        return f"Position {self.number}: {', '.join(what)}."


@dataclass(frozen=True)
class DrawnCable:
    """A cable from the feed end to (x, y), its mark centred there, its words beside it (`before`: left of the mark).

    `plate_…`: the ground behind the words. It hides what they stand on, and touches no line or mark of another cable.
    """

    position: PositionToDraw
    x: float
    y: float
    mark_x: float
    mark_y: float
    text_x: float
    text_y: float
    before: bool
    plate_x: float
    plate_y: float
    plate_width: float
    plate_height: float

    @property
    def share(self):
        """How far it reaches, in percent of the longest way that is drawn: the ladder's bars."""
        return round(100 * (self.x - LEFT) / (RIGHT - LEFT), 1)


@dataclass(frozen=True)
class DrawnFold:
    """A fold line at x; `label_y` None: its number has no room and stands in the table only."""

    distance_m: float
    x: float
    label_y: float | None


@dataclass(frozen=True)
class MatDrawing:
    """A mat with its feed end at the left. `beyond`: a cable is longer than the mat is wide."""

    width: int
    height: float
    left: float
    right: float
    top: float
    bottom: float
    middle: float
    mark: float
    to_scale: bool
    width_m: float | None
    px_per_m: float
    beyond: bool
    folds: tuple[DrawnFold, ...]
    cables: tuple[DrawnCable, ...]

    @property
    def estimates(self):
        return any(cable.position.estimated for cable in self.cables)

    @property
    def across(self):
        return round(self.right - self.left, 1)

    @property
    def down(self):
        return self.bottom - self.top

    @property
    def feed_x(self):
        return self.left - 8


def mat_drawing(width_m, folds_m, positions, mark=12, row=ROW):
    """A mat to scale: `width_m` and `folds_m` in metres from the feed end, cables drawn straight to their lengths.

    Without a width (None) or without fold lines it is not to scale: cables keep their proportions to each other.
    `mark` is the side of the marks: 12 for screens, 18 for paper. `row`: from one cable to the next.
    """
    positions = sorted(positions, key=lambda position: position.number)
    longest_m = max((position.length_m for position in positions), default=0)
    px_per_m = (RIGHT - LEFT) / (max(width_m or 0, longest_m, *(folds_m or ())) or 1)
    right = round(LEFT + width_m * px_per_m, 1) if width_m else RIGHT
    bottom = TOP + row * (len(positions) + 0.5)
    folds = _folds(folds_m, px_per_m, bottom)
    return MatDrawing(
        width=WIDTH,
        height=bottom + LINE_OF_TEXT * _rows_of_labels(folds, bottom) + 6,
        left=LEFT,
        right=right,
        top=TOP,
        bottom=bottom,
        middle=(TOP + bottom) / 2 + 5,
        mark=mark,
        to_scale=bool(width_m and folds_m),
        width_m=width_m,
        px_per_m=px_per_m,
        beyond=bool(width_m) and longest_m > width_m,
        folds=folds,
        cables=tuple(
            _cable(position, TOP + row * (place + 0.75), px_per_m, mark, row)
            for place, position in enumerate(positions)
        ),
    )


def _cable(position, y, px_per_m, mark, row):
    x = round(LEFT + position.length_m * px_per_m, 1)
    words = len(f"{position.number}: {position.beside}") * CHARACTER
    before = x + mark + words > RIGHT and x - words > LEFT
    text_x = round(x - mark if before else x + mark, 1)
    plate_height = min(row - PLATES_APART, HIGHEST_PLATE)
    return DrawnCable(
        position=position,
        x=x,
        y=y,
        mark_x=round(x - mark / 2, 1),
        mark_y=y - mark / 2,
        text_x=text_x,
        text_y=y + 5,
        before=before,
        plate_x=round(text_x - words, 1) if before else text_x - 2,
        plate_y=round(y - plate_height / 2, 2),
        plate_width=words,
        plate_height=plate_height,
    )


def _folds(folds_m, px_per_m, bottom):
    """Each label goes into the first row under the mat where it does not touch the one before it."""
    ends, folds = [0.0] * FOLD_LABEL_ROWS, []
    for distance_m in folds_m or ():
        x = round(LEFT + distance_m * px_per_m, 1)
        row = next((row for row, end in enumerate(ends) if x - FOLD_LABEL_ROOM / 2 >= end), None)
        if row is not None:
            ends[row] = x + FOLD_LABEL_ROOM / 2
        folds.append(DrawnFold(distance_m, x, None if row is None else bottom + LINE_OF_TEXT * (row + 1)))
    return tuple(folds)


def _rows_of_labels(folds, bottom):
    lowest = max((fold.label_y for fold in folds if fold.label_y is not None), default=bottom)
    return round((lowest - bottom) / LINE_OF_TEXT)
