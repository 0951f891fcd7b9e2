"""Cables to buy for the whole pool: what is due by a day, less what lies on the shelf."""

from collections import Counter

from fleet.models import CableType
from fleet.models.stock import kind_of
from fleet.selectors.shelf import shelf_by_kind

from ..due.needed import Needed, less_shelf


def to_buy(assessed, until, on):
    """`Needed` of these assessed segments, shortest first, of which more are due by then than lie on the shelf."""
    names = dict(CableType.objects.order_by().values_list("pk", "name"))
    due = Counter(
        kind_of(names[row.segment.cable_type_id], row.segment.length_m)
        for row in assessed
        if row.due_on is not None and row.due_on <= until
    )
    kinds = [Needed(length_m, name, (count,)) for (name, length_m), count in due.items()]
    kinds.sort(key=lambda kind: (kind.length_m, kind.cable_type))
    return tuple(kind for kind in less_shelf(kinds, shelf_by_kind(on)) if kind.to_get)
