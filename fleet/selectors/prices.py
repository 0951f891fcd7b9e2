"""The price list, and which cables stand on none of its lines."""

from dataclasses import dataclass

from django.db.models import F
from django.shortcuts import get_object_or_404

from ..figures import two_places
from ..models import CableType, DesignPosition, Price
from ..models.stock import kind_of
from ..models.withdrawable import in_use
from .trail import deleted_rows, newest_first, trail_of_rows


@dataclass(frozen=True)
class Unpriced:
    """A kind of cable that positions of designs in use ask for, and that has no price."""

    cable_type: str
    length_m: float


def get_price_or_404(pk):
    return get_object_or_404(Price.objects.with_names(), pk=pk)


def prices_listed():
    """All lines: cables by type and length, then sets."""
    in_order = (F(path).asc(nulls_last=True) for path in ("cable_type__name", "length_m", "design__code"))
    return Price.objects.with_names().order_by(*in_order)


def lead_times_of_types():
    """{cable type's key: days} where a line says it of every length."""
    lines = Price.objects.filter(length_m=None, design=None).exclude(lead_time_days=None).order_by()
    return dict(lines.values_list("cable_type", "lead_time_days"))


def unpriced_kinds(on):
    """`Unpriced` of the kinds that designs in use ask for and that have no price; by type, the shortest first."""
    priced = Price.objects.exclude(price=None).order_by().values_list("cable_type__name", "length_m")
    known = {kind_of(name, length_m) if length_m else name for name, length_m in priced if name}
    places = DesignPosition.objects.filter(in_use(on, "design"), in_use(on, "cable_type")).order_by()
    kinds = {kind_of(*kind) for kind in places.values_list("cable_type__name", "length_m")}
    return [Unpriced(*kind) for kind in sorted(kinds) if kind not in known and kind[0] not in known]


def trail_of_prices():
    """Changes of all lines in one list, newest first."""
    names = dict(CableType.objects.order_by().values_list("pk", "name"))

    def was(state):
        length = f", {two_places(state.length_m)} m" if state.length_m else ""
        return f"{names.get(state.cable_type_id, 'a set')}{length}: deleted"

    lines = prices_listed().filter(version__gt=1)
    return newest_first(trail_of_rows(lines, name=lambda price: price.what), deleted_rows(Price, was))
