"""What to buy in the next twelve months, by when, and for how much."""

from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from fleet.models import CableType
from fleet.months import first_of_month, months_after
from fleet.selectors.shelf import shelf_by_kind

from ..numeric.purchases import cheapest_purchase
from .need_selectors import needs_until
from .price_selectors import Offer, read_price_list

# twelve months, whichever day it is
DAYS, MONTHS = 365, 12
_CENTS = 100


@dataclass(frozen=True)
class KindPlan:
    """One kind of cable: a type and a length, and the days on which one more of it is missing.

    `needed`: in all; `on_orders`: of these, for work orders in force. `missing`: what the shelf does not cover, the
    soonest first. `singles`: of these, what is bought singly; the others come in sets.
    """

    cable_type: CableType
    length_m: float
    estimated: bool
    needed: int
    on_orders: int
    on_shelf: int
    missing: tuple[date, ...]
    singles: tuple[date, ...]
    offer: Offer

    @property
    def kind(self):
        return self.cable_type.name, self.length_m

    @property
    def to_buy(self):
        return len(self.missing)

    @property
    def in_sets(self):
        return len(self.missing) - len(self.singles)

    @property
    def first_on(self):
        return self.missing[0] if self.missing else None

    @property
    def days(self):
        """Of what is bought singly."""
        return self.singles

    @property
    def buy_by(self):
        """Of the first that is bought singly; None where none is, or where nobody knows how long it takes."""
        return first_buy_by(self)

    @property
    def cost(self):
        return _cost(self.offer, len(self.singles))


@dataclass(frozen=True)
class SetPlan:
    """The set of a design where its price was weighed: `days`, the first need that each set bought meets.

    `saved`: what its cables would have cost singly; `left_over`: cables that nothing in the twelve months asks for.
    `unknown`: kinds without a price, for the sake of which it could not be weighed.
    """

    design: str
    offer: Offer
    days: tuple[date, ...] = ()
    saved: Decimal = Decimal(0)
    left_over: int = 0
    unknown: tuple = ()

    @property
    def count(self):
        return len(self.days)

    @property
    def buy_by(self):
        return first_buy_by(self)

    @property
    def cost(self):
        return _cost(self.offer, self.count)


@dataclass(frozen=True)
class MonthPlan:
    """`unpriced`: of the `cables` (and sets), those of which nobody knows the price."""

    first: date
    cables: int
    sets: int
    cost: Decimal
    unpriced: int


@dataclass(frozen=True)
class Plan:
    """`kinds`: each kind that is needed; `sets`: those whose price is known; `months`: from this one on."""

    on: date
    until: date
    kinds: tuple[KindPlan, ...]
    sets: tuple[SetPlan, ...]
    months: tuple[MonthPlan, ...]
    segments: set
    empty: int
    bare: int

    @property
    def needed(self):
        return sum(kind.needed for kind in self.kinds)

    @property
    def to_buy(self):
        return sum(kind.to_buy for kind in self.kinds)

    @property
    def bought_sets(self):
        return [each for each in self.sets if each.count]

    @property
    def cost(self):
        return sum((month.cost for month in self.months), Decimal(0))

    @property
    def unpriced(self):
        return sum(month.unpriced for month in self.months)

    @property
    def first_buy_by(self):
        """The soonest day by which something has to be ordered; None where nothing is missing or no day is known."""
        days = [each.buy_by for each in (*self.kinds, *self.sets) if each.buy_by]
        return min(days, default=None)

    @property
    def measure_first(self):
        return any(kind.estimated and kind.to_buy for kind in self.kinds)


def buy_by(day, offer):
    """The last day to order what is needed on that day; None where nobody knows how long it takes."""
    return None if offer.lead_time_days is None else day - timedelta(days=offer.lead_time_days)


def first_buy_by(plan):
    return buy_by(plan.days[0], plan.offer) if plan.days else None


def first_order(plan, on):
    """How many of a KindPlan's single cables, or of a SetPlan's sets, are to be ordered by its first day, or by now."""
    first = plan.buy_by and max(plan.buy_by, on)
    return sum(first is not None and buy_by(day, plan.offer) <= first for day in plan.days)


def purchase_plan(on):
    """The Plan of the twelve months from today; as many queries whatever the pool holds."""
    until = on + timedelta(days=DAYS)
    needs, prices = needs_until(on, until), read_price_list(on)
    kinds = _kinds(needs.dated, shelf_by_kind(on), prices)
    kinds, sets = _with_sets(kinds, prices.sets)
    months = _by_month(kinds, sets, on)
    return Plan(on, until, tuple(kinds.values()), tuple(sets), months, needs.segments, needs.empty, needs.bare)


def _kinds(dated, shelf, prices):
    """{kind: KindPlan} of what is needed, by type and length; nothing of it in sets yet."""
    types = {row.name: row for row in CableType.objects.filter(name__in={need.kind[0] for need in dated})}
    by_kind = defaultdict(list)
    for need in dated:
        by_kind[need.kind].append(need)
    return {
        kind: _kind(types[kind[0]], kind, of_kind, shelf.get(kind, 0), prices.of(kind))
        for kind, of_kind in sorted(by_kind.items())
    }


def _kind(cable_type, kind, needs, shelf, offer):
    missing = tuple(need.day for need in needs[shelf:])
    estimated, orders = any(need.estimated for need in needs), sum(need.on_order for need in needs)
    return KindPlan(cable_type, kind[1], estimated, len(needs), orders, shelf, missing, missing, offer)


def _with_sets(kinds, offers):
    """(kinds, [SetPlan]) with sets in place of single cables wherever that costs less in all."""
    offers = [each for each in offers if each.offer.price is not None and _asked(each, kinds)]
    unknown = {
        each.design: tuple(kind for kind in _asked(each, kinds) if kinds[kind].offer.price is None) for each in offers
    }
    weighed = [each for each in offers if not unknown[each.design]]
    priced = [kind for kind, plan in kinds.items() if plan.offer.price is not None]
    bought = cheapest_purchase(
        [kinds[kind].to_buy for kind in priced],
        [_cents(kinds[kind].offer) for kind in priced],
        [[each.holds[kind] for kind in priced] for each in weighed],
        [_cents(each.offer) for each in weighed],
    )
    counts = dict(zip((each.design for each in weighed), bought.sets.tolist(), strict=True))
    left, sets = dict(kinds), []
    for each in offers:
        plan, left = _taken(each, counts.get(each.design, 0), left)
        sets.append(replace(plan, unknown=unknown[each.design]))
    return left, sets


def _asked(offer, kinds):
    """The kinds of a set of which at least one is to be bought."""
    return [kind for kind in offer.holds if kind in kinds and kinds[kind].to_buy]


def _taken(offer, count, kinds):
    """(SetPlan of so many sets, the kinds without what they hold): each set meets the soonest needs that are left."""
    days, saved, left_over, left = [], Decimal(0), 0, dict(kinds)
    for _ in range(count):
        met = []
        for kind, held in offer.holds.items():
            plan = left.get(kind)
            taken = plan.singles[:held] if plan else ()
            left_over += held - len(taken)
            if taken:
                met += taken
                saved += len(taken) * plan.offer.price
                left[kind] = replace(plan, singles=plan.singles[held:])
        days.append(min(met))
    return SetPlan(offer.design, offer.offer, tuple(sorted(days)), saved, left_over), left


def _by_month(kinds, sets, on):
    """A MonthPlan of this month and each of the twelve after it, by the day to order; without one by the day needed."""
    cables = _orders([(kind.offer, kind.singles) for kind in kinds.values()], on)
    of_sets = _orders([(each.offer, each.days) for each in sets], on)
    firsts = [months_after(first_of_month(on), ahead) for ahead in range(MONTHS + 1)]
    return tuple(_month(first, cables[first], of_sets[first]) for first in firsts)


def _orders(plans, on):
    """{first day of the month: the price of each thing to order in it}; what should be ordered by now is of now."""
    of_month = defaultdict(list)
    for offer, days in plans:
        for day in days:
            of_month[first_of_month(max(buy_by(day, offer) or day, on))].append(offer.price)
    return of_month


def _month(first, cables, sets):
    known = [price for price in (*cables, *sets) if price is not None]
    return MonthPlan(first, len(cables), len(sets), sum(known, Decimal(0)), len(cables) + len(sets) - len(known))


def _cost(offer, count):
    return None if offer.price is None else offer.price * count


def _cents(offer):
    return int(offer.price * _CENTS)
