"""The due list as one page for each depot, with the cables that it needs."""

from collections import Counter
from dataclasses import dataclass
from itertools import groupby

from .needed import Needed, totals

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


def depot_pages(rows, days):
    """One `DepotPage` for each depot that the rows of `due_rows` name, by its name; no further query."""
    by_depot = sorted(rows, key=lambda row: (row.mat.depot is None, str(row.mat.depot)))
    return [
        DepotPage(depot, of_depot, _needed(of_depot, days))
        for depot, of_depot in (
            (depot, list(group)) for depot, group in groupby(by_depot, key=lambda row: row.mat.depot)
        )
    ]


def _needed(rows, days):
    counts = [
        Counter((row.segment.length_m, row.segment.cable_type.name) for row in rows if row.due_on and row.due_on <= day)
        for day in days
    ]
    kinds = sorted(set().union(*counts))
    return [Needed(*kind, tuple(count[kind] for count in counts)) for kind in kinds]
