"""The price list as whoever buys reads it: what one kind of cable costs, and what the sets hold."""

from collections import Counter
from dataclasses import dataclass
from decimal import Decimal

from fleet.models import DesignPosition, Price
from fleet.models.stock import kind_of
from fleet.models.withdrawable import in_use


@dataclass(frozen=True)
class Offer:
    """What is known of a purchase; None and "" where the list does not say."""

    price: Decimal | None = None
    lead_time_days: int | None = None
    supplier_number: str = ""

    def or_else(self, other):
        """This offer, with what it does not say taken from the other."""
        price = other.price if self.price is None else self.price
        lead = other.lead_time_days if self.lead_time_days is None else self.lead_time_days
        return Offer(price, lead, self.supplier_number or other.supplier_number)


@dataclass(frozen=True)
class SetOffer:
    """The set of a design: one cable a position. `holds`: {kind: how many of it}."""

    design: str
    holds: Counter
    offer: Offer


@dataclass(frozen=True)
class PriceList:
    by_kind: dict
    by_type: dict
    sets: tuple[SetOffer, ...]

    def of(self, kind):
        """The line of its length, and where that says nothing the one of its type."""
        return self.by_kind.get(kind, NOTHING).or_else(self.by_type.get(kind[0], NOTHING))


NOTHING = Offer()


def read_price_list(on):
    """The whole list, with the sets of designs in use; two queries."""
    columns = ("cable_type__name", "length_m", "design", "design__code", "price", "lead_time_days", "supplier_number")
    by_kind, by_type, of_sets = {}, {}, {}
    for name, length_m, design, code, *said in Price.objects.order_by("pk").values_list(*columns):
        if design is not None:
            of_sets[design] = code, Offer(*said)
        elif length_m is None:
            by_type[name] = Offer(*said)
        else:
            by_kind[kind_of(name, length_m)] = Offer(*said)
    return PriceList(by_kind, by_type, tuple(_sets(of_sets, on)))


def _sets(of_sets, on):
    holds = {design: Counter() for design in of_sets}
    places = DesignPosition.objects.filter(in_use(on, "design"), design__in=of_sets).order_by()
    for design, *kind in places.values_list("design", "cable_type__name", "length_m"):
        holds[design][kind_of(*kind)] += 1
    for design, (code, offer) in sorted(of_sets.items(), key=lambda item: item[1][0]):
        if holds[design]:
            yield SetOffer(code, holds[design], offer)
