"""What a limit costs and when a change is cheapest by a trend, and how sure that is by what the trend may be."""

from dataclasses import dataclass, replace

import numpy as np

from ..lives.resampling import interval
from .cheapest_age import CheapestAge, changes_at, cheapest_age, cost_at, least_cost
from .life_curves import LifeCurves

# of TrendCosts, what is counted by the unit of age
_BY_AGE = (
    *("cost_low", "cost_high", "today_cost", "today_low", "today_high", "never_cost"),
    *("changes", "today_changes", "more_drawn"),
)


@dataclass(frozen=True)
class TrendCosts:
    """Of one kind of thing under several Costs; arrays (costs,) by the unit of age of its life, all for one thing.

    `best`: CheapestAge by the trend as it is known; `age_low` to `age_high`: 90 % interval of that age by what the
    trend may be, `cost_low` to `cost_high` of its cost. `today_cost`: of the limit in force, `today_low` to
    `today_high` its interval, `never_cost`: of changing none by age. `over_before`: the share over before the best age,
    `today_over_before` before today's; `changes`: at the best age, `today_changes` by today's limit. `more_drawn`:
    (costs, draws) what today's limit costs more than that age.
    """

    best: CheapestAge
    age_low: np.ndarray
    age_high: np.ndarray
    cost_low: np.ndarray
    cost_high: np.ndarray
    today_cost: np.ndarray
    today_low: np.ndarray
    today_high: np.ndarray
    never_cost: np.ndarray
    over_before: np.ndarray
    today_over_before: float
    changes: np.ndarray
    today_changes: float
    more_drawn: np.ndarray

    def by_year(self, pace):
        """The same by the year, of what ages by so many units in it; ages stay as they are."""
        scaled = {name: pace * getattr(self, name) for name in _BY_AGE}
        return replace(self, best=replace(self.best, cost=pace * self.best.cost), **scaled)


def trend_costs(ages, within, drawn, costs, today, checks):
    """TrendCosts: `within` (ages,) the share within by the trend, `drawn` (draws, ages) by what it may be; `costs`: a
    list of Costs; `today`: the limit in force, inf none; `checks` per unit of age."""
    lives, others = (LifeCurves.of(ages, part, checks) for part in (within[:, None], drawn.T))
    ends = [cheapest_age(lives, each) for each in costs]
    best = CheapestAge(*(np.array([getattr(e, name)[0] for e in ends]) for name in CheapestAge.__dataclass_fields__))
    drawn_bests = [least_cost(others, each) for each in costs]
    drawn_age, drawn_least = (np.stack(part, axis=1) for part in zip(*drawn_bests, strict=True))
    drawn_today = np.stack([cost_at(others, each, today) for each in costs], axis=1)
    drawn_best = np.stack([cost_at(others, c, age) for c, age in zip(costs, best.age, strict=True)], axis=1)
    today_cost = np.array([cost_at(lives, each, today)[0] for each in costs])
    (today_changes, *changes), (today_over, *over) = _changes(lives, (today, *best.age))
    return TrendCosts(
        best,
        *_around(best.age, drawn_age),
        *_around(best.cost, drawn_least),
        today_cost,
        *_around(today_cost, drawn_today),
        never_cost=np.array([cost_at(lives, each, np.inf)[0] for each in costs]),
        over_before=np.array(over),
        today_over_before=today_over,
        changes=np.array(changes),
        today_changes=today_changes,
        more_drawn=(drawn_today - drawn_best).T,
    )


def _around(value, drawn):
    """(low, high) of the draws, reaching to the value itself."""
    low, high = interval(drawn)
    return np.minimum(low, value), np.maximum(high, value)


def _changes(lives, ages):
    """(changes a unit of age, shares over before it) of a life at each of the ages."""
    ages = np.minimum(ages, lives.horizon)
    return zip(
        *((float(changes_at(lives, age)[0][0]), 1 - float(lives.within.at(age)[0])) for age in ages), strict=True
    )
