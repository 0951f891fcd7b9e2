"""A mat drawn to scale, its feed end at the left; beyond its far edge what is known of each position, in columns."""

from dataclasses import dataclass

from django.utils.text import slugify

from fleet.figures import two_places
from fleet.templatetags.lengths import in_m

WIDTH = 1100
LEFT, RIGHT, TOP = 56, 1096, 4
ROW = 24
# where many cables must share a sheet of paper with everything else
TIGHT_ROW = 13.5
FOLD_LABEL_ROOM = 64
FOLD_LABEL_ROWS = 3
LINE_OF_TEXT = 18
# room that a character takes at most, on paper where letters are larger; and what lies between two columns
CHARACTER, APART = 8, 16
# the word at the feed end stands below it, before the first number of a fold
FEED_ROOM = 44


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
    def length_in_short(self):
        return f"{two_places(self.length_m)} m{' est.' if self.estimated else ''}"

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
    """A cable from the feed end to (x, y), its mark centred there, its words at height `text_y`.

    `share`: how far it reaches, in percent of the longest way that is drawn: the ladder's bars.
    """

    position: PositionToDraw
    x: float
    y: float
    mark_x: float
    mark_y: float
    text_y: float
    share: float


@dataclass(frozen=True)
class Columns:
    """Where the columns beyond the mat end: numbers, lengths, losses; `far`: as far as the mat and its cables may go.

    `said_once`: what all positions say alike, and stands in no column; '' where they differ.
    """

    far: float
    number_x: float
    length_x: float
    label_x: float = RIGHT
    said_once: str = ""


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
    mark: float
    to_scale: bool
    width_m: float | None
    px_per_m: float
    beyond: bool
    folds: tuple[DrawnFold, ...]
    cables: tuple[DrawnCable, ...]
    columns: Columns

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
    def feed_y(self):
        return self.bottom + LINE_OF_TEXT

    @property
    def number_x(self):
        """Where the numbers at the feed end stop."""
        return self.left - 8


def mat_drawing(width_m, folds_m, positions, mark=12, row=ROW):
    """A mat to scale: `width_m` and `folds_m` in metres from the feed end, cables drawn straight to their lengths.

    Without a width (None) or without fold lines it is not to scale: cables keep their proportions to each other.
    `mark` is the side of the marks: 12 for screens, 18 for paper. `row`: from one cable to the next.
    """
    positions = sorted(positions, key=lambda position: position.number)
    longest_m = max((position.length_m for position in positions), default=0)
    columns = _columns(positions)
    px_per_m = (columns.far - LEFT) / (max(width_m or 0, longest_m, *(folds_m or ())) or 1)
    right = round(LEFT + width_m * px_per_m, 1) if width_m else columns.far
    bottom = TOP + row * (len(positions) + 0.5)
    folds = _folds(folds_m, px_per_m, bottom)
    return MatDrawing(
        width=WIDTH,
        height=bottom + LINE_OF_TEXT * _rows_of_labels(folds, bottom) + 6,
        left=LEFT,
        right=right,
        top=TOP,
        bottom=bottom,
        mark=mark,
        to_scale=bool(width_m and folds_m),
        width_m=width_m,
        px_per_m=px_per_m,
        beyond=bool(width_m) and longest_m > width_m,
        folds=folds,
        cables=tuple(
            _cable(position, TOP + row * (place + 0.75), px_per_m, mark, columns.far)
            for place, position in enumerate(positions)
        ),
        columns=columns,
    )


def _columns(positions):
    labels = {position.label for position in positions}
    said_once = labels.pop() if len(labels) == 1 and len(positions) > 1 else ""
    length_x = RIGHT - _room([] if said_once else [position.label for position in positions])
    number_x = length_x - _room([position.length_in_short for position in positions])
    far = number_x - _room([str(position.number) for position in positions])
    return Columns(far, number_x, length_x, said_once=said_once)


def _room(words):
    """What a column and the space before it take; nothing where nobody says anything in it."""
    longest = max(map(len, words), default=0)
    return longest * CHARACTER + APART if longest else 0


def _cable(position, y, px_per_m, mark, far):
    x = round(LEFT + position.length_m * px_per_m, 1)
    return DrawnCable(
        position=position,
        x=x,
        y=y,
        mark_x=round(x - mark / 2, 1),
        mark_y=y - mark / 2,
        text_y=y + 5,
        share=round(100 * (x - LEFT) / (far - LEFT), 1),
    )


def _folds(folds_m, px_per_m, bottom):
    """Each label goes into the first row under the mat where it does not touch the one before it."""
    ends, folds = [FEED_ROOM] + [0.0] * (FOLD_LABEL_ROWS - 1), []
    for distance_m in folds_m or ():
        x = round(LEFT + distance_m * px_per_m, 1)
        row = next((row for row, end in enumerate(ends) if x - FOLD_LABEL_ROOM / 2 >= end), None)
        if row is not None:
            ends[row] = x + FOLD_LABEL_ROOM / 2
        folds.append(DrawnFold(distance_m, x, None if row is None else bottom + LINE_OF_TEXT * (row + 1)))
    return tuple(folds)


def _rows_of_labels(folds, bottom):
    lowest = max((fold.label_y for fold in folds if fold.label_y is not None), default=0)
    return max(1, round((lowest - bottom) / LINE_OF_TEXT))
