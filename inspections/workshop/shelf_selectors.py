"""What lies on the shelf, kind by kind, beside what falls due: is there enough to change what must be changed?"""

from collections import defaultdict
from dataclasses import dataclass

from fleet.models.stock import kind_of
from fleet.selectors.shelf import by_depot, shelf_by_kind

from ..due.needed import cables_needed
from ..due.selectors import due_list


@dataclass(frozen=True)
class ShelfKind:
    """Cables of one type and length: spares, and those fitted that are due now and by the end of the look-ahead."""

    cable_type: str
    length_m: float
    on_shelf: int
    due_now: int
    due_by: int
    # (name of a depot, "" where nobody said; how many lie there)
    where: tuple[tuple[str, int], ...] = ()

    @property
    def missing(self):
        return max(self.due_by - self.on_shelf, 0)


def shelf_kinds(on, last_day):
    """`ShelfKind` of each kind that lies there or falls due by `last_day`: by type, the shortest first."""
    shelf, due = shelf_by_kind(on), defaultdict(lambda: (0, 0))
    for needed in cables_needed(due_list(), [on, last_day], shelf):
        due[kind_of(needed.cable_type, needed.length_m)] = needed.counts
    kinds = sorted(shelf.keys() | due.keys())
    places = by_depot(shelf)
    return [ShelfKind(*kind, shelf.get(kind, 0), *due[kind], _where(places[kind])) for kind in kinds]


def _where(places):
    return tuple(sorted(((depot, number) for depot, number in places.items() if number), key=_nowhere_last))


def _nowhere_last(place):
    return place[0] == "", place
