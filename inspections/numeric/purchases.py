"""Single cables or sets of them, whichever costs less."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Purchase:
    """How many of each set, and of each kind singly; arrays of whole numbers (sets,) and (kinds,)."""

    sets: np.ndarray
    singles: np.ndarray


def cheapest_purchase(needed, single_price, in_set, set_price):
    """The Purchase that costs least among those that cover what is needed; at equal cost the one with fewest sets.

    `needed`, `single_price`: (kinds,); `set_price`: (sets,); `in_set`: (sets, kinds), how many of each a set holds.
    Counts and prices are whole numbers (hundredths of a currency), so that costs compare exactly. Raises ValueError
    where no plan is found, which whole numbers that are not negative cannot bring about.

    Solved exactly, as a covering problem in whole numbers by branch and bound (HiGHS through scipy.optimize.milp): of
    sets that share kinds, neither one after the other nor each by itself gives the least.
    """
    needed, single_price, set_price = (np.asarray(part, np.int64) for part in (needed, single_price, set_price))
    in_set = np.asarray(in_set, np.int64).reshape(len(set_price), len(needed))
    worth = [row for row in range(len(in_set)) if _may_pay(needed, single_price, in_set[row], set_price[row])]
    sets = np.zeros(len(in_set), np.int64)
    if worth:
        sets[worth] = _solve(needed, single_price, in_set[worth], set_price[worth])
    return Purchase(sets, np.maximum(needed - sets @ in_set, 0))


def _may_pay(needed, single_price, holds, price):
    """One set in place of the single cables that it saves at most: dearer than these it is never part of the least."""
    return price < np.minimum(holds, needed) @ single_price


def _solve(needed, single_price, in_set, set_price):
    # only price lists with sets need it
    from scipy.optimize import Bounds, LinearConstraint, milp

    kinds, sets = len(needed), len(in_set)
    most = [_most_of(needed, holds) for holds in in_set]
    # all extra sets together weigh less than a hundredth, the step between two costs
    cost = np.concatenate([set_price + 0.5 / (1 + sum(most)), single_price])
    covers = np.hstack([in_set.T, np.eye(kinds, dtype=np.int64)])
    found = milp(
        cost,
        integrality=np.ones(sets + kinds),
        bounds=Bounds(0, np.concatenate([most, needed])),
        constraints=LinearConstraint(covers, lb=needed),
        options={"mip_rel_gap": 0},
    )
    if found.x is None:
        raise ValueError(f"No purchase was found: {found.message}")
    return np.rint(found.x[:sets]).astype(np.int64)


def _most_of(needed, holds):
    """So many of one set cover by themselves all that is needed of its kinds."""
    held = holds > 0
    return int(np.max(-(-needed[held] // holds[held]), initial=0))
