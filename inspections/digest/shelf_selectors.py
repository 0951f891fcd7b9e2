"""Cables to buy for the whole pool: what is due by a day, less what lies on the shelf."""

from collections import Counter
from dataclasses import dataclass

from fleet.models import CableType
from fleet.models.stock import kind_length
from fleet.selectors.shelf import shelf_by_kind


@dataclass(frozen=True)
class ToBuy:
    length_m: float
    cable_type: str
    count: int


def to_buy(assessed, until, on):
    """ToBuy by length and type of these assessed segments, shortest first; whatever the shelf covers is left out."""
    names = dict(CableType.objects.order_by().values_list("pk", "name"))
    due = Counter(
        (names[row.segment.cable_type_id], kind_length(row.segment.length_m))
        for row in assessed
        if row.due_on is not None and row.due_on <= until
    )
    # what is left of a Counter that was taken from is above nothing
    kinds = (ToBuy(length_m, cable_type, count) for (cable_type, length_m), count in (due - shelf_by_kind(on)).items())
    return tuple(sorted(kinds, key=lambda kind: (kind.length_m, kind.cable_type)))
