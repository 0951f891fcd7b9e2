"""How long a fresh cable lasts as the pool's trend says: the share of such cables over the limit by age.

A fresh cable has no reading: its level and rate are those of its length, and it differs from others of that length as
the pool's cables differ. Two things make its life uncertain, and they stand apart here: cables differ and wander (the
spread, which gives the curve its slope), and the pool's parameters are known from finitely many readings (parameters
drawn from what the fit knows of them, one curve each). *Over*, the condition on wear that does not heal and the
settling are those of `crossings`, so that a limit is the early date of a cable without a reading.

Of a pool that is answered at its optimum the variance parameters are taken as known: there the drawn curves differ by
the fixed part only.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..crossings import (
    FALLING_ABOVE,
    SETTLING_MET,
    TINY,
    Limits,
    falling_chance,
    find_crossings,
    find_mixture_crossings,
    joint_chance,
    time_of_rising_chance,
)
from ..wear_model import SETTLING_PRIOR, Variances
from ..wear_states import SegmentStates

# draws of the pool's parameters; the seed keeps pages the same
DRAWS, SEED = 256, 2005


@dataclass(frozen=True)
class Kinds:
    """Fresh cables that are asked about; arrays (kinds,): length in metres, loss limit and accepted risk."""

    length_m: np.ndarray
    limit_db: np.ndarray
    accepted_risk: np.ndarray

    @classmethod
    def of(cls, length_m, limit_db=3.0, accepted_risk=0.05):
        """Numbers stand for all kinds. Raises ValueError: accepted risk outside (0, 0.5]."""
        length_m = np.atleast_1d(np.asarray(length_m, float))
        limit_db, risk = (np.broadcast_to(np.asarray(v, float), length_m.shape) for v in (limit_db, accepted_risk))
        if not np.all((risk > 0) & (risk <= 0.5)):
            raise ValueError("The accepted risk must lie above 0 and not above one half.")
        return cls(length_m, limit_db, risk)

    def __len__(self):
        return len(self.length_m)


@dataclass(frozen=True)
class FreshLives:
    """Fresh cables over weighted points of the pool's parameters: `states` (points, kinds) on the day of fitting,
    `weight` (points,) of sum 1, `limits` of `crossings`. Ages are on the model's clock."""

    states: SegmentStates
    weight: np.ndarray
    limits: Limits

    @property
    def kinds(self):
        return self.states.level.shape[-1]

    @property
    def falls(self):
        """(kinds,) of bool: wear as the readings show it falls, so that a life has no end and no chance is told."""
        return self.weight @ falling_chance(self.states) > FALLING_ABOVE

    def take(self, rows):
        """The same of some of the kinds, which may come several times."""
        return replace(self, states=self.states.take(rows), limits=self.limits.take(rows))

    def share_over(self, ages):
        """Share of each kind over by these ages, (ages,) or of each its own (ages, kinds), cables and parameters
        together: (ages, kinds); nan where it falls."""
        rises = np.maximum(1 - self.weight @ falling_chance(self.states), TINY)
        shares = np.stack([np.minimum(self.weight @ self._joint(age) / rises, 1.0) for age in np.asarray(ages, float)])
        return np.where(self.falls, np.nan, shares)

    def shares_apart(self, ages):
        """The same of each point of the parameters by itself: (points, ages, kinds); nan where it falls."""
        fall = falling_chance(self.states)
        rises = np.maximum(1 - fall, TINY)
        shares = np.stack([np.minimum(self._joint(age) / rises, 1.0) for age in np.asarray(ages, float)], axis=1)
        return np.where((fall > FALLING_ABOVE)[:, None], np.nan, shares)

    def ages_at(self, share, horizon):
        """Age by which `share` (number or array) of each kind is over: (kinds,); inf not within `horizon`, nan where it
        falls. Of one point exactly the early date of a cable without a reading."""
        none, (share, horizon) = np.zeros(self.kinds), self._each(share, horizon)
        if len(self.weight) == 1:
            point = replace(self.limits, settling_db=self.limits.settling_db[0])
            return find_crossings(self.states.take_point(0), point, none, share, horizon).early
        return find_mixture_crossings(self.states, self.weight, self.limits, none, share, horizon).early

    def ages_apart(self, share, horizon):
        """The same of each point of the parameters by itself: (points, kinds); inf also where it falls."""
        shape, falls = self.states.level.shape, falling_chance(self.states).ravel()
        flat, rises = SegmentStates(*map(np.ravel, self.states)), np.maximum(1 - falls, TINY)
        limit_db, settling_db, f_last = (
            np.broadcast_to(part, shape).ravel()
            for part in (self.limits.limit_db, self.limits.settling_db, self.limits.f_last)
        )
        limits = replace(self.limits, limit_db=limit_db, settling_db=settling_db, f_last=f_last)

        def chance_at(ahead, i):
            there = replace(limits.take(i), settling_db=limits.settling_db[i])
            return np.minimum(joint_chance(flat.take(i), ahead, there.at(ahead)) / rises[i], 1.0)

        share, horizon = (np.tile(each, shape[0]) for each in self._each(share, horizon))
        ages = time_of_rising_chance(chance_at, share, horizon, falls.size)
        return np.where(falls > FALLING_ABOVE, np.inf, ages).reshape(shape)

    def _each(self, *values):
        return [np.broadcast_to(np.asarray(value, float), self.kinds) for value in values]

    def _joint(self, age):
        ahead = np.array(np.broadcast_to(age, self.kinds), float)
        return joint_chance(self.states, ahead, self.limits.at(ahead))


def fresh_lives(points, kinds, *, by_years=True, as_read=False):
    """FreshLives of Kinds under PoolPoints, the uncertainty of the fixed part in the covariances of the states.

    `as_read`: over by what an instrument shows, with the scatter of a bench day and of a reading, and without the
    quarter of the settling that may come and go.
    """
    level, rate = _columns(points, kinds)
    of_pool = [np.einsum("ak,gab,bk->gk", a, points.fixed, b) for a, b in ((level, level), (level, rate), (rate, rate))]
    known = points.relative, points.sigma2
    states = _states(*known, of_pool, points.values @ level, points.values @ rate, points.scale, as_read)
    return FreshLives(states, points.weight, _limits(kinds, points.settling_db, by_years, as_read))


def drawn_lives(points, kinds, *, by_years=True, as_read=False, draws=DRAWS, seed=SEED):
    """FreshLives of Kinds, a point for each draw of the pool's parameters from what the fit knows of them: its points
    as often as they weigh, and at each the fixed part from its normal distribution."""
    chosen = np.searchsorted(np.cumsum(points.weight), (np.arange(draws) + 0.5) / draws).clip(0, len(points.weight) - 1)
    root = np.linalg.cholesky(points.fixed * points.sigma2[:, None, None])[chosen]
    z = np.random.default_rng(seed).standard_normal((draws, root.shape[-1]))
    values = points.values[chosen] + np.einsum("gab,gb->ga", root, z)
    settling_db = SETTLING_PRIOR * values[:, -1] if points.settling else np.zeros(draws)
    relative, (level, rate) = Variances(*points.variances[:, chosen]), _columns(points, kinds)
    known = [np.zeros((draws, len(kinds)))] * 3
    states = _states(relative, points.sigma2[chosen], known, values @ level, values @ rate, points.scale, as_read)
    return FreshLives(states, np.full(draws, 1 / draws), _limits(kinds, settling_db, by_years, as_read))


def _columns(points, kinds):
    """(level, rate): what the fixed columns add to each on the day of fitting, (columns, kinds)."""
    new = np.zeros(len(kinds))
    return points.columns.of(kinds.length_m, new, new), points.columns.rate_of(kinds.length_m)


def _states(relative, sigma2, of_pool, level, rate, scale, as_read):
    """SegmentStates in units of the clock; `of_pool`: variances and covariance of the fixed part over `sigma2`."""
    spread, sigma2 = relative.spread(1), sigma2[:, None]
    c00, c01, c11 = (
        sigma2 * (cables + pool) for cables, pool in zip((spread.c00, spread.c01, spread.c11), of_pool, strict=True)
    )
    if as_read:
        c00 = c00 + sigma2 * (1 + spread.day)
    wander = np.broadcast_to(sigma2 * spread.wander, level.shape)
    return SegmentStates(level, rate / scale, c00, c01 / scale, c11 / scale**2, wander / scale)


def _limits(kinds, settling_db, by_years, as_read):
    met = 0.0 if as_read else SETTLING_MET
    return Limits(kinds.limit_db, settling_db[:, None], np.zeros(len(kinds)), by_years, met)
