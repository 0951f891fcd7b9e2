"""The due list as one page for each depot, with the cables that it needs."""

from collections import Counter
from dataclasses import dataclass
from itertools import groupby

from fleet.selectors.shelf import by_depot, near

from .needed import Needed, less_shelf, totals

# some sixty pages; with more due, narrow the list by depot or day
MOST_ROWS = 2_000


@dataclass(frozen=True)
class DepotPage:
    """`depot` None: mats without one. `needed`: by length and cable type, one count for each of the days."""

    depot: object
    rows: list
    needed: list[Needed]

    @property
    def totals(self):
        return totals(self.needed)

    @property
    def measure_first(self):
        """Whether a length to buy was measured by nobody."""
        return any(kind.estimated for kind in self.needed)


def depot_pages(rows, days, shelf):
    """One `DepotPage` for each depot that the rows of `due_rows` name, by its name.

    Of the `shelf`, as `shelf_by_kind` has it, a depot's page counts what lies there or where nobody said.
    """
    places = by_depot(shelf)
    in_order = sorted(rows, key=lambda row: (row.mat.depot is None, str(row.mat.depot)))
    return [
        DepotPage(depot, of_depot, _needed(of_depot, days, near(depot, places) if depot else shelf))
        for depot, of_depot in (
            (depot, list(group)) for depot, group in groupby(in_order, key=lambda row: row.mat.depot)
        )
    ]


def _needed(rows, days, shelf):
    counts = [Counter(_kind(row) for row in rows if _is_due(row, day)) for day in days]
    estimated = Counter(_kind(row) for row in rows if _is_due(row, max(days)) and row.segment.length_is_estimated)
    kinds = sorted(set().union(*counts))
    needed = [Needed(*kind, tuple(count[kind] for count in counts), estimated[kind]) for kind in kinds]
    return less_shelf(needed, shelf)


def _is_due(row, day):
    return row.due_on is not None and row.due_on <= day


def _kind(row):
    return row.segment.length_m, row.segment.cable_type.name
