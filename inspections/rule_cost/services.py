"""What the limits in force cost a year, and the age or count at which a change is cheapest, by the pool's own trend."""

import pickle
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from ..length_limits.services import PoolLimits, limits_of_day
from ..numeric.crossings import HORIZON_YEARS
from ..numeric.lives.limits_by_length import HORIZON_EVENTS
from ..numeric.lives.modelled import Kinds, drawn_lives, fresh_lives
from ..numeric.lives.resampling import interval
from ..numeric.pool_points import PoolPoints
from ..numeric.replacement.cheapest_age import Costs
from ..numeric.replacement.life_curves import curve_ages
from ..numeric.replacement.trend_costs import TrendCosts, trend_costs
from ..numeric.words import Clock
from ..pool_life.cable_services import checks_of
from ..pool_life.kept_services import AlikeByContent
from .known_selectors import Looks, Together, Work, changed_together, looks_at, work_of
from .place_selectors import CostPlace, cost_places

# answers kept by what they were made of: pages are looked at again, by one person after another
KEPT = 8


@dataclass(frozen=True)
class PlaceCosts(TrendCosts):
    """TrendCosts of one cable at a CostPlace, ages on its clock and all else by the year; arrays (2,): if an event with
    a cable over costs the least, and the most."""

    place: CostPlace

    @property
    def more(self):
        """(2,) money a year of all its cables."""
        return self.place.cables * (self.today_cost - self.best.cost)

    @property
    def all_more_drawn(self):
        """(2, draws) the same of the draws."""
        return self.place.cables * self.more_drawn

    @property
    def all_changes(self):
        """(2, 2): cables a year, today and at the cheapest."""
        return self.place.cables * np.array([np.full(2, self.today_changes), self.changes])


@dataclass(frozen=True)
class RuleCosts:
    """As of a day. `rows`: of the places of which everything is known; `unpriced`, `unused`: places without a price,
    or whose mats have no use on record; `falls`: those whose wear falls by the readings. `limits`: PoolLimits of the
    day."""

    limits: PoolLimits
    work: Work
    together: Together
    looks: Looks
    places: tuple[CostPlace, ...]
    rows: tuple[PlaceCosts, ...]
    falls: tuple[CostPlace, ...]

    @property
    def clock(self):
        return self.limits.clock

    @property
    def unpriced(self):
        return [place for place in self.places if place.price is None]

    @property
    def unused(self):
        return [place for place in self.places if not place.events_a_year]

    @property
    def is_incomplete(self):
        return bool(not self.limits.has_fit or self.work.missing or self.unpriced or self.unused or self.falls)

    def limit_of(self, place):
        """PositionLimit of a CostPlace."""
        rows = (row for row in self.limits.rows if row.design.pk == place.design.pk and row.position in place.positions)
        return next(rows)

    @property
    def cables(self):
        return sum(row.place.cables for row in self.rows)

    @cached_property
    def today(self):
        """(2,) money a year of all cables in `rows` by the limits in force."""
        return sum((row.place.cables * row.today_cost for row in self.rows), np.zeros(2))

    @cached_property
    def more(self):
        """(2,) money a year that the limits in force cost more than the cheapest."""
        return sum((row.more for row in self.rows), np.zeros(2))

    @cached_property
    def more_interval(self):
        """(low, high): 90 % interval of the same, from the least that an event may cost to the most."""
        drawn = sum((row.all_more_drawn for row in self.rows), np.zeros((2, 1)))
        low, high = interval(drawn.T)
        return float(low.min()), float(high.max())

    @cached_property
    def changes(self):
        """(2, 2): cables a year, today and at the cheapest, if an event costs the least and the most."""
        return sum((row.all_changes for row in self.rows), np.zeros((2, 2)))


def rule_costs(on, today, known=None):
    """RuleCosts as of `on` by the keeper's clock; `today` is the day of the clock on the wall. Stores nothing but what
    every page assesses first. `known`: LimitsOfDay, where it was made already."""
    found = known or limits_of_day(on, today)
    limits, cables, state = found.own, found.cables, found.cables.state
    said = {
        "work": work_of(state.policy),
        "together": changed_together(state.fittings, state.day),
        "looks": looks_at(cables, checks_of(cables, suspect=True, sure=True)),
    }
    places = tuple(cost_places(state, on, limits.clock))
    rows, falls = (), ()
    if limits.has_fit and not said["work"].missing:
        asked = [place for place in places if place.price is not None and place.events_a_year]
        rows, falls = _kept(_Asked(limits.model.points, tuple(asked), limits.clock, **said))
    return RuleCosts(limits, places=places, rows=rows, falls=falls, **said)


@dataclass(frozen=True, eq=False)
class _Asked(AlikeByContent):
    """All that answers are made of; alike by its content."""

    points: PoolPoints
    places: tuple[CostPlace, ...]
    wear_clock: str
    work: Work
    together: Together
    looks: Looks

    @cached_property
    def content(self):
        return pickle.dumps(self.points), self.places, self.work, self.together, self.looks


@lru_cache(maxsize=KEPT)
def _kept(asked):
    return _answers(**{name: getattr(asked, name) for name in asked.__dataclass_fields__})


def _answers(points, places, wear_clock, work, together, looks):
    """(PlaceCosts, places whose wear falls)"""
    if not places:
        return (), ()
    by_years = wear_clock == Clock.YEARS
    ages = curve_ages(HORIZON_YEARS if by_years else HORIZON_EVENTS)
    different, row = np.unique([(p.length_m, p.loss_limit_db) for p in places], axis=0, return_inverse=True)
    kinds = Kinds.of(*different.T)
    whole = fresh_lives(points, kinds, by_years=by_years)
    within = 1 - np.nan_to_num(whole.share_over(ages))
    # where a draw of the trend's numbers has wear that falls, such a cable never goes over
    drawn = 1 - np.nan_to_num(drawn_lives(points, kinds, by_years=by_years).shares_apart(ages))
    found, falls = [], []
    for place, kind in zip(places, row.ravel().tolist(), strict=True):
        if whole.falls[kind]:
            falls.append(place)
        else:
            found.append(_place_costs(place, ages, within[:, kind], drawn[:, :, kind], work, together, looks))
    return tuple(found), tuple(falls)


def _place_costs(place, ages, within, drawn, work, together, looks):
    """PlaceCosts of one place: `within` (ages,) by the trend, `drawn` (draws, ages) by what it may be."""
    # units of the clock in a year: costs of a year are what pages and people count
    pace = 1.0 if place.wear_clock == Clock.YEARS else place.events_a_year
    costs = [_costs(place, event_cost, pace, work, together) for event_cost in work.event_costs]
    found = trend_costs(ages, within, drawn, costs, place.today, looks.a_year / pace)
    return PlaceCosts(**vars(found.by_year(pace)), place=place)


def _costs(place, event_cost, pace, work, together):
    """Costs of a cable on its clock, where an event with a cable over costs that."""
    a_change = place.price + work.per_change
    return Costs(
        planned=a_change + work.per_mat / together.mean,
        found=a_change + work.per_mat,
        over=event_cost * place.events_a_year / pace,
    )
