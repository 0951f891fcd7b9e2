"""The places of cables that cost alike: positions of a design with one length, price and limit."""

from dataclasses import dataclass, replace

import numpy as np

from fleet.models import DesignPosition, MatDesign
from fleet.models.stock import kind_of

from ..buying.price_selectors import read_price_list
from ..numeric.calendar import whole_months
from ..numeric.words import Clock
from .known_selectors import events_by_design


@dataclass(frozen=True)
class CostPlace:
    """`cables` in service in these positions. `price` None: not known; `events_a_year` of the design's mats, 0: none on
    record. `today`: the limit in force on `wear_clock`, of age or events, whichever is reached first; inf: none."""

    design: MatDesign
    cable_type: str
    length_m: float
    positions: tuple[int, ...]
    cables: int
    price: float | None
    loss_limit_db: float
    events_a_year: float
    today: float
    wear_clock: str


def cost_places(state, on, wear_clock):
    """[CostPlace] of the designs in use, by design and length, the longest first."""
    prices, events, cables = read_price_list(on), events_by_design(state), _cables_by_place(state)
    positions = DesignPosition.objects.filter(design__in=MatDesign.objects.in_use(on))
    found = {}
    for position in positions.select_related("design", "cable_type").order_by("design__code", "number"):
        price = prices.of(kind_of(position.cable_type.name, position.length_m)).price
        place = CostPlace(
            design=position.design,
            cable_type=position.cable_type.name,
            length_m=position.length_m,
            positions=(position.number,),
            cables=cables.get((position.design_id, position.number), 0),
            price=None if price is None else float(price),
            loss_limit_db=state.policy.value("loss_limit_db", design_id=position.design_id),
            events_a_year=(events_a_year := events.get(position.design_id, 0.0)),
            today=_limit_today(state.policy, position, wear_clock, events_a_year),
            wear_clock=wear_clock,
        )
        key = (position.design_id, place.cable_type, place.length_m, place.today)
        found[key] = _joined(found[key], place) if key in found else place
    return sorted(found.values(), key=lambda place: (place.design.code, -place.length_m, place.positions))


def _joined(place, other):
    return replace(place, positions=place.positions + other.positions, cables=place.cables + other.cables)


def _cables_by_place(state):
    design, position = (part[state.current] for part in (state.fittings.design, state.fittings.position))
    places, counts = np.unique(np.stack([design, position]), axis=1, return_counts=True)
    return dict(zip(map(tuple, places.T.tolist()), counts.tolist(), strict=True))


def _limit_today(policy, position, wear_clock, events_a_year):
    place = {"design_id": position.design_id, "position": position.number}
    years = float(whole_months(policy.value("age_limit_years", **place))) / 12 or np.inf
    events = policy.value("event_limit", **place) or np.inf
    if wear_clock == Clock.EVENTS:
        return min(events, years * events_a_year if events_a_year else np.inf)
    return min(years, events / events_a_year if events_a_year else np.inf)
