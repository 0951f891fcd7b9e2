"""The search for the optimum of a pool's likelihood.

Start from a sub-pool, then quasi-Newton on all of it with the sub-pool's Hessian. The deviance is even in l22, rho and
kappa, so that a boundary (a deviation of nothing, which is legal) needs no fence.
"""

from dataclasses import dataclass, replace

import numpy as np

from .likelihood import Deviance
from .minimise import CONVERGED, ENOUGH, hessian, newton_at_once, quasi_newton, rough_hessian
from .mixed_equations import NoFit

SUB_POOL_SEGMENTS = 4000
# of cables read often fewer do: so many readings; in pools so small that steps on all go to the very end, less
SUB_POOL_READINGS, SUB_POOL_READINGS_OF_FEWER = 20_000, 8000
# cables enough to tell how they differ
LEAST_SUB_POOL_SEGMENTS = 200
# in the sub-pool only the fullest days have a shift of their own: the others carry its variance on each reading
SUB_POOL_DAYS = 300
# with more bench days than these the sub-pool's optimum is taken, and a large pool is solved there once
DAYS_TO_SOLVE_ONCE = 1200
# Newton decrement at which the last step on all of a large pool is made: a hundredth of a standard error
ENOUGH_OF_ALL = 1e-4
STEPS_ON_ALL, STEPS_ON_ALL_OF_FEWER = 12, 40
START = (1.0, 0.0, 0.5, 0.3, 0.5)
# a bench that reads far apart from day to day, which may look like wear
SHIFTING = (1.0, 0.0, 0.5, 0.3, 5.0)
MORE_STARTS = (SHIFTING, (3.0, 0.5, 1.0, 1.0, 1.0), (0.2, 0.0, 0.2, 0.1, 2.0))
# Where a deviation is nothing, the last hundredths of a deviance take longer than all before: below so many segments,
# whose parameters are integrated over, a fit arrives at this decrement.
FEW_SEGMENTS = 150
NEARLY_CONVERGED = 1e-2
# numbers in all n x n matrices up to which many points cost little more than one
FEW_NUMBERS = 6000
# a deviation this large beside sigma says that there is no sigma
THETA_MAX = 1e5
# a former fit at the boundary is started from so far inside
OFF_THE_BOUNDARY = 0.02


@dataclass(frozen=True)
class Part:
    """A Deviance as a function of the estimated ones among theta; `kappa` where that is not."""

    deviance: Deviance
    estimated: np.ndarray
    kappa: float

    def full(self, x):
        theta = np.array([0.0, 0.0, 0.0, 0.0, self.kappa])
        theta[self.estimated] = x
        return theta

    def values(self, x):
        """Of many x (points, estimated ones) at once."""
        theta = np.full((len(x), 5), self.full(x[0]))
        theta[:, self.estimated] = x
        return self.deviance.values(theta)

    def __call__(self, x):
        if np.abs(x).max() > THETA_MAX:
            return np.inf, np.zeros(len(x))
        value, gradient = self.deviance(self.full(x))
        return value, gradient[self.estimated]


def find_optimum(whole, material, start):
    """(theta, Newton decrement) of the Part `whole`, which is made of a Material; `start`: theta of a former fit."""
    seen = np.flatnonzero(np.bincount(material.readings.segment))
    many = len(seen) >= 2 * SUB_POOL_SEGMENTS
    step = _step(len(seen), whole.deviance, many)
    step_on_all = step > 1 and (whole.deviance.days <= DAYS_TO_SOLVE_ONCE or not many)
    part = whole if step == 1 else _sub_pool(whole, material.of_segments(seen[::step]))
    on_all = AllOfPool(whole, part, step, many)
    if step_on_all and start is not None:
        x, decrement = on_all.steps(start[part.estimated])
        if decrement < on_all.enough:
            return whole.full(x), decrement
        start = None
    x, decrement = _from_starts(part, start, several=not many, few=len(seen) < FEW_SEGMENTS)
    if step_on_all:
        x, decrement = on_all.steps(x)
    return whole.full(x), decrement


def _step(segments, deviance, many):
    """One of so many segments is in the sub-pool."""
    enough = SUB_POOL_READINGS if many else SUB_POOL_READINGS_OF_FEWER
    heavy = max(deviance.readings // enough, deviance.days // SUB_POOL_DAYS)
    return max(1, segments // SUB_POOL_SEGMENTS, min(heavy, segments // LEAST_SUB_POOL_SEGMENTS))


@dataclass(frozen=True)
class AllOfPool:
    """The last steps of a search: on the Part `whole`, of which `part` holds one of `step` segments."""

    whole: Part
    part: Part
    step: int
    many: bool

    @property
    def enough(self):
        return ENOUGH_OF_ALL if self.many else ENOUGH

    def steps(self, x):
        """(x, Newton decrement) by quasi-Newton steps from x: the sub-pool's boundary need not be that of all."""
        x = _off_the_boundary(self.part.full(x))[self.part.estimated]
        most = STEPS_ON_ALL if self.many else STEPS_ON_ALL_OF_FEWER
        return quasi_newton(self.whole, x, self._hessian(x), most, self.enough)

    def _hessian(self, x):
        """That of the sub-pool, scaled: segments tell of all but kappa, bench days of kappa."""
        times = np.full(5, float(self.step))
        times[4] = self.whole.deviance.days / max(self.part.deviance.days, 1)
        root = np.sqrt(times[self.part.estimated])
        return rough_hessian(self.part, x) * np.outer(root, root)


def _off_the_boundary(theta):
    """At the boundary the gradient is nought whether it is the optimum or not."""
    return np.array([*theta[:2], *np.maximum(np.abs(theta[2:]), OFF_THE_BOUNDARY)])


def _sub_pool(whole, material):
    keys, count = material.shared_days()
    fullest = np.sort(keys[np.argsort(-count, kind="stable")[:SUB_POOL_DAYS]])
    return replace(whole, deviance=material.deviance(fullest))


def _from_starts(part, start, several, few):
    """The best of `several` starts, or of as many as it takes until one arrives."""
    former, found = [] if start is None else [_off_the_boundary(start)], []
    arrived = NEARLY_CONVERGED if few else CONVERGED
    for theta in [*former, START, *MORE_STARTS]:
        x, decrement = _from_start(part, np.array(theta)[part.estimated], few)
        found.append((part(x)[0], x, decrement))
        if decrement < arrived and len(found) >= (len(former) + 2 if several else 1):
            break
    value, x, decrement = min(found, key=lambda each: each[0])
    if not np.isfinite(value):
        raise NoFit("The likelihood is not finite.")
    return x, decrement


def _from_start(part, x, few):
    """(x, Newton decrement); of `few` segments many points cost little more than one."""
    if few and part.deviance.pieces is None and part.deviance.numbers <= FEW_NUMBERS:
        return quasi_newton(part, *newton_at_once(part.values, x))
    return quasi_newton(part, x, hessian(part, x))
