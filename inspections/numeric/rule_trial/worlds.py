"""Pools that wear as the fitted one may: for each draw of its parameters, what fresh cables do at each place.

A world is one draw of what the fit knows of the pool's parameters (`lives.modelled.drawn_lives`), so that answers
differ from world to world by as much as the readings leave open. Small pools are laid out several times in each.
"""

import math
from dataclasses import dataclass

import numpy as np

from ..lives.modelled import Kinds, drawn_lives
from ..reading_blocks import settled
from ..wear_states import SegmentStates

TINY = 1e-300


@dataclass(frozen=True)
class Worlds:
    """Fresh cables by the year: `fresh` arrays (worlds, places), mean and spread of level and rate, and their wander.

    `settling_db`, `lowered_db` (what the limit is lowered by), `sigma_db`, `day_sd_db`, `damage_a_year`: (worlds, 1);
    `copies`: how many worlds belong to one draw, one or an even number.
    """

    fresh: SegmentStates
    settling_db: np.ndarray
    lowered_db: np.ndarray
    sigma_db: np.ndarray
    day_sd_db: np.ndarray
    damage_a_year: np.ndarray
    by_years: bool
    copies: int = 1

    @property
    def shape(self):
        return self.fresh.level.shape

    def share_settled(self, age):
        """Of what settles, by an age in years."""
        return settled(age) if self.by_years else np.ones_like(age)

    def draw_cables(self, rng, rows):
        """(level, rate) of a fresh cable for each of these numbers of places, all worlds in a row: rates not below 0,
        for wear does not heal."""
        level, rate, c00, c01, c11 = (part.ravel()[rows] for part in self.fresh[:5])
        sd = np.sqrt(np.maximum(c11, TINY))
        drawn = rate + sd * _normal_above(rng, -rate / sd)
        slope = c01 / np.maximum(c11, TINY)
        left = np.sqrt(np.maximum(c00 - slope * c01, 0.0))
        return level + slope * (drawn - rate) + left * rng.standard_normal(len(rows)), drawn

    def halves(self, mats):
        """Number of the half draw in which each mat of each world is counted, (worlds, mats): of the draw's copies, or
        of its mats where it has one copy."""
        world, mat = np.arange(self.shape[0])[:, None], np.arange(mats)
        half = world if self.copies > 1 else mat
        return 2 * (world // self.copies) + half % 2 + np.zeros_like(mat)

    def by_half(self, tally):
        """What was counted by `halves`, as of a whole pool: (draws, 2)."""
        return tally.reshape(-1, 2) * 2 / self.copies


def _normal_above(rng, low):
    """Standard normal numbers not below `low`, by the inverse of their distribution."""
    from scipy.special import ndtr, ndtri

    # of the upper tail, which keeps its digits
    share = rng.random(len(low)) * ndtr(-low)
    return -ndtri(np.maximum(share, TINY))


def drawn_worlds(points, places, *, by_years=True, damaged=0, cable_years=0.0, draws=100, least_places=400, seed=1):
    """Worlds of PoolPoints at Places, at least `least_places` in each draw, so that chance evens out.

    `damaged`: cables that damage ended in so many `cable_years`; nothing is damaged where none was watched.
    """
    pairs, row = np.unique(np.stack([places.length_m, places.limit_db]), axis=1, return_inverse=True)
    lives = drawn_lives(points, Kinds.of(*pairs), by_years=by_years, draws=draws).take(row.ravel())
    copies = copies_of(places, least_places)
    settling_db = np.broadcast_to(lives.limits.settling_db, (draws, 1))
    sigma2 = points.weight @ points.sigma2
    day2 = points.weight @ (points.sigma2 * points.relative.day)
    return Worlds(
        fresh=SegmentStates(*(np.repeat(part, copies, axis=0) for part in by_the_year(lives.states, places.pace))),
        settling_db=np.repeat(settling_db, copies, axis=0),
        lowered_db=np.repeat(lives.limits.met * np.maximum(settling_db, 0.0), copies, axis=0),
        sigma_db=np.full((draws * copies, 1), np.sqrt(sigma2)),
        day_sd_db=np.full((draws * copies, 1), np.sqrt(day2)),
        damage_a_year=np.repeat(_damage(damaged, cable_years, draws, seed), copies, axis=0),
        by_years=by_years,
        copies=copies,
    )


def copies_of(places, least_places):
    """How often Places are laid out in each draw, so that it has so many at least and falls into two halves."""
    if len(places) >= least_places and places.mats > 1:
        return 1
    return 2 * math.ceil(least_places / max(2 * len(places), 1))


def by_the_year(states, pace):
    """SegmentStates by units of the clock as such by the year, at so many units a year (places,)."""
    level, rate, c00, c01, c11, q = states
    return SegmentStates(level, rate * pace, c00, c01 * pace, c11 * pace**2, q * pace)


def _damage(damaged, cable_years, draws, seed):
    """Rates of damage a year that these counts leave open (Jeffreys' prior of a Poisson rate; Box & Tiao 1973)."""
    if cable_years <= 0:
        return np.zeros((draws, 1))
    return np.random.default_rng(seed).gamma(damaged + 0.5, 1 / cable_years, (draws, 1))
