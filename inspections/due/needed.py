"""Cables to have ready: how many of each length and cable type are due by which day."""

from dataclasses import dataclass

from django.db.models import Count, Q

from fleet.choices import LengthBasis


@dataclass(frozen=True)
class Needed:
    """`counts`: one number for each day asked; of the last `estimated` have a length that nobody measured."""

    length_m: float
    cable_type: str
    counts: tuple[int, ...]
    estimated: int = 0


def cables_needed(rows, days):
    """`Needed` of these assessed segments by each of the days, shortest first; what is due by none is left out."""
    due = [Count("pk", filter=Q(due_on__lte=day)) for day in days]
    kinds = rows.filter(due_on__lte=max(days)).order_by().values_list("segment__length_m", "segment__cable_type__name")
    counted = kinds.annotate(
        **{f"by_{number}": count for number, count in enumerate(due)},
        estimated=Count("pk", filter=Q(segment__length_basis=LengthBasis.ESTIMATED)),
    )
    in_order = counted.order_by("segment__length_m", "segment__cable_type__name")
    return [Needed(length_m, name, tuple(counts), estimated) for length_m, name, *counts, estimated in in_order]


def totals(needed):
    """The sum over all lengths and types for each day; empty where nothing is needed."""
    return [sum(counts) for counts in zip(*(kind.counts for kind in needed), strict=True)]
