"""Mats to tick: by depot, in tiles as short as their numbers allow, each with what speaks against it."""

import re
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby
from operator import attrgetter

from ..models import Depot, Mat
from ..selectors.unfit import with_unfit

_DIGITS_BEHIND = re.compile(r"\d+$")
# up to how many characters a tile of that width takes
WIDTHS = ((4, "short"), (9, "medium"))
# more would keep what stands below them out of reach
MOST_UNFOLDED = 60


@dataclass(frozen=True)
class Tile:
    """`number`: of the mat, without what its neighbours' begin with too; `is_gone`: withdrawn by the day."""

    mat: Mat
    number: str
    is_gone: bool


@dataclass(frozen=True)
class DepotTiles:
    """The mats of one depot; `prefix`: what all their numbers begin with, so that it is said once."""

    depot: Depot | None
    prefix: str
    tiles: tuple[Tile, ...]

    @property
    def width(self):
        longest = max(len(tile.number) for tile in self.tiles)
        return next((width for most, width in WIDTHS if longest <= most), "long")

    @property
    def offered(self):
        """How many there are to tick."""
        return sum(not tile.is_gone for tile in self.tiles)


class MatPicker:
    """What the page on which mats are ticked for a day shows. What should not go by `last_day` is marked.

    `listed`: the MatList of what was ticked and typed so far. `since`: mats in use on that earlier day are there too,
    hidden, for the day may change while the page is open.
    """

    def __init__(self, mats, listed, *, day, last_day, on, since=None):
        self.listed, self.day, self.last_day, self.on = listed, day, last_day, on
        self._mats = [mat for mat in mats if mat.in_use(min(since or day, day))]

    @cached_property
    def by_depot(self):
        """DepotTiles in turn, first those that hold what is ticked: a planned event is logged without a search."""
        mats = with_unfit(self._mats, self.last_day, on=self.on)
        depots = [self._tiles(depot, list(of_depot)) for depot, of_depot in groupby(mats, key=attrgetter("depot"))]
        ticked = self.ticked
        return sorted(depots, key=lambda depot: not any(tile.mat.pk in ticked for tile in depot.tiles))

    @cached_property
    def unfit(self):
        """{mat number: why it should not go by the last day}"""
        return {tile.mat.number: tile.mat.unfit for tile in self._all_tiles if tile.mat.unfit}

    @cached_property
    def gone(self):
        """Numbers of those that are withdrawn by the day."""
        return [tile.mat.number for tile in self._all_tiles if tile.is_gone]

    @property
    def folds(self):
        """Whether each depot is folded away until it is opened, or a number is looked for."""
        return len(self._mats) > MOST_UNFOLDED

    @property
    def chosen(self):
        """The mats chosen so far, by number."""
        return sorted(self.listed.mats, key=attrgetter("number"))

    @property
    def ticked(self):
        return {mat.pk for mat in self.listed.mats}

    @property
    def _all_tiles(self):
        return [tile for of_depot in self.by_depot for tile in of_depot.tiles]

    def _tiles(self, depot, mats):
        prefix = common_prefix([mat.number for mat in mats])
        tiles = (Tile(mat, mat.number[len(prefix) :], not mat.in_use(self.day)) for mat in mats)
        return DepotTiles(depot, prefix, tuple(tiles))


def common_prefix(numbers):
    """What stands before the digits in all these numbers; "" where they differ, or where digits are all there is."""
    prefix = _DIGITS_BEHIND.sub("", numbers[0])
    alike = all(number.startswith(prefix) and number[len(prefix) :].isdigit() for number in numbers)
    return prefix if alike else ""
