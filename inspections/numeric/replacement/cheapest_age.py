"""The age at which a thing is changed for the least cost a year, and how much dearer other ages are.

A thing is changed at age T, or as soon as it is found over. With G the share in use, S the share within, L and M their
integrals to T, a change at T costs `planned`, one of a thing found over `found`, and being over and in use costs
`over` per unit of age:

    C(T) = [planned · G + found · (1 − G) + over · (L − M)]/L

Where what is over is found at once, G is S, and that is the rule of Barlow & Hunter 1960; where nobody ever looks, G is
1, and a thing that is over costs until its age is reached. C has its minimum where C' changes its sign: that root is
searched, for C itself is flat at great ages.
"""

from dataclasses import dataclass

import numpy as np

from .life_curves import LifeCurves

# as dear as the least cost, for whoever plans work
NEARLY = 1.05
# what saves less than this of the cost of not changing by age is no saving
LEAST_SAVING = 1e-4
HALVINGS = 40


@dataclass(frozen=True)
class Costs:
    """Of each life, or of all: `planned` and `found` a change, `over` per unit of age; in one money."""

    planned: np.ndarray
    found: np.ndarray
    over: np.ndarray = 0.0


@dataclass(frozen=True)
class CheapestAge:
    """Arrays, one for each life. `age`: of least cost, inf: do not change by age; `cost`: what that is per unit of age;
    `low` to `high`: ages around it whose cost is at most a twentieth more, inf: to the horizon and beyond."""

    age: np.ndarray
    cost: np.ndarray
    low: np.ndarray
    high: np.ndarray


def cost_at(lives: LifeCurves, costs: Costs, age):
    """C(T) of each life at an age of each, or of all; inf: never changed by age, counted to the horizon."""
    age = np.broadcast_to(np.minimum(np.asarray(age, float), lives.horizon), lives.checks.shape)
    return _cost(costs, lives.in_use.at(age), lives.lived.at(age), lives.lived_within.at(age))


def changes_at(lives: LifeCurves, age):
    """(changes per unit of age, share of them found over) of each life under that age: a change ends each L(T)."""
    age = np.broadcast_to(np.minimum(np.asarray(age, float), lives.horizon), lives.checks.shape)
    return 1 / lives.lived.at(age), 1 - lives.in_use.at(age)


def least_cost(lives: LifeCurves, costs: Costs):
    """(age, cost) of LifeCurves under Costs, as CheapestAge has them."""
    cost, ages = _cost_at_ages(lives, costs), lives.ages
    never, first = cost[-1], cost.argmin(axis=0)
    # the ages before and after it; at age 0 everything is changed all the time
    age = _root(lives, costs, ages[first], ages[np.minimum(first + 2, len(ages) - 1)])
    least = cost_at(lives, costs, age)
    saves = least < (1 - LEAST_SAVING) * never
    return np.where(saves, age, np.inf), np.where(saves, least, never)


def cheapest_age(lives: LifeCurves, costs: Costs):
    """CheapestAge of LifeCurves under Costs."""
    age, least = least_cost(lives, costs)
    return CheapestAge(age, least, *_nearly(lives, costs, age, least))


def _cost_at_ages(lives, costs):
    """C at the ages of the curves but the first: (ages − 1, columns)."""
    return _cost(costs, *(part.at_ages()[1:] for part in (lives.in_use, lives.lived, lives.lived_within)))


def _cost(costs, in_use, lived, lived_within):
    spent = costs.planned * in_use + costs.found * (1 - in_use) + costs.over * (lived - lived_within)
    return spent / lived


def _root(lives, costs, low, high):
    """Age between these at which C' changes its sign from falling to rising; the end towards which C falls where it
    does not."""
    low, high = np.array(low, float), np.array(high, float)
    slope = lives.within.slope
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        falls = _steepness(lives, costs, slope, middle) < 0
        low, high = np.where(falls, middle, low), np.where(falls, high, middle)
    return (low + high) / 2


def _steepness(lives, costs, slope, age):
    """Of the sign of C': K'L − K·G, where K is what is spent by that age and K' its slope."""
    within, in_use = lives.within.at(age), lives.in_use.at(age)
    lived, lived_within = lives.lived.at(age), lives.lived_within.at(age)
    over = in_use - within
    at_random = np.isfinite(lives.checks)
    found = np.where(at_random, np.where(at_random, lives.checks, 0.0) * over, -slope.at(age))
    spent = costs.planned * in_use + costs.found * (1 - in_use) + costs.over * (lived - lived_within)
    return ((costs.found - costs.planned) * found + costs.over * over) * lived - spent * in_use


def _nearly(lives, costs, age, least):
    """(low, high): where C passes NEARLY times its least on either side of the age."""
    cost = _cost_at_ages(lives, costs)
    dear, ages = cost > NEARLY * least, lives.ages[1:, None]
    before, after = dear & (ages < age), dear & (ages > age)
    last = np.where(before.any(axis=0), len(ages) - 1 - before[::-1].argmax(axis=0), 0)
    next_one = np.minimum(last + 1, len(ages) - 1)
    low = _passes(lives, costs, least, ages[last, 0], np.minimum(ages[next_one, 0], age))
    first = after.argmax(axis=0)
    inner = np.maximum(ages[np.maximum(first - 1, 0), 0], np.where(np.isfinite(age), age, 0.0))
    high = _passes(lives, costs, least, ages[first, 0], inner)
    return np.where(before.any(axis=0), low, 0.0), np.where(after.any(axis=0), high, np.inf)


def _passes(lives, costs, least, dear, cheap):
    """Age at which C is NEARLY times the least, between one where it is more and one where it is not."""
    dear, cheap = np.array(dear, float), np.minimum(cheap, lives.horizon)
    for _ in range(HALVINGS):
        middle = (dear + cheap) / 2
        is_dear = cost_at(lives, costs, middle) > NEARLY * least
        dear, cheap = np.where(is_dear, middle, dear), np.where(is_dear, cheap, middle)
    return (dear + cheap) / 2
