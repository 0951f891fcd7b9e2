"""Cables to have ready: how many of each length and cable type are due by which day, less what lies on the shelf."""

from collections import Counter
from dataclasses import dataclass, replace

from django.db.models import Count, Q

from fleet.choices import LengthBasis
from fleet.models.stock import kind_of


@dataclass(frozen=True)
class Needed:
    """`counts`: one number for each day asked; of the last `estimated` have a length that nobody measured.

    `on_shelf`: how many of the kind lie there.
    """

    length_m: float
    cable_type: str
    counts: tuple[int, ...]
    estimated: int = 0
    on_shelf: int = 0

    @property
    def to_get(self):
        """How many must come by the last day."""
        return max(self.counts[-1] - self.on_shelf, 0)


def cables_needed(rows, days, shelf):
    """`Needed` of these assessed segments by each of the days, shortest first; what is due by none is left out.

    `shelf`: {(cable type, length in m): how many lie there}.
    """
    due = [Count("pk", filter=Q(due_on__lte=day)) for day in days]
    kinds = rows.filter(due_on__lte=max(days)).order_by().values_list("segment__length_m", "segment__cable_type__name")
    counted = kinds.annotate(
        **{f"by_{number}": count for number, count in enumerate(due)},
        estimated=Count("pk", filter=Q(segment__length_basis=LengthBasis.ESTIMATED)),
    )
    in_order = counted.order_by("segment__length_m", "segment__cable_type__name")
    kinds = [Needed(length_m, name, tuple(counts), estimated) for length_m, name, *counts, estimated in in_order]
    return less_shelf(kinds, shelf)


def less_shelf(kinds, shelf):
    """The same with what lies on the shelf. Of lengths that differ by a hair, the first has it all."""
    left = Counter(shelf)
    found = []
    for kind in kinds:
        key = kind_of(kind.cable_type, kind.length_m)
        found.append(replace(kind, on_shelf=left[key]))
        left[key] -= min(left[key], kind.counts[-1])
    return found


def totals(needed):
    """The sum over all lengths and types for each day; empty where nothing is needed."""
    return [sum(counts) for counts in zip(*(kind.counts for kind in needed), strict=True)]
