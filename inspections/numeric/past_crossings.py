"""Chances at times before the last reading, from the smoothed path: when a level that is reached by now was reached."""

import numpy as np

from .crossings import TINY, falling_chance, joint_chance
from .reading_blocks import settled
from .wear_states import SegmentStates

# steps from the time between two readings to a day
STEPS = 6


class Past:
    """Some segments' chances of having been over, at scaled times up to their last reading.

    `limit_db`: their limits, lowered by what comes and goes, (points or 1, segments); `by_years`: the clock counts
    years.
    """

    def __init__(self, answers, limit_db, by_years):
        self.answers, self.limit_db, self.by_years = answers, limit_db, by_years

    def take(self, rows):
        return Past(self.answers.take(rows), self.limit_db[:, rows], self.by_years)

    def chance_at(self, t):
        """P(over at t | rate >= 0), for each its own `t` (segments,)."""
        f = settled(t) if self.by_years else self._settled_between(t)
        target = self.answers.at(t, f)
        states, weight = SegmentStates(*target, 0.0), self.answers.points.weight
        rises = np.maximum(1 - weight @ falling_chance(states), TINY)
        return np.minimum(weight @ joint_chance(states, 0.0, self.limit_db) / rises, 1.0)

    def _settled_between(self, t):
        """By events nobody knows the years between two readings: the share that has settled goes straight."""
        known_t, known_f = (np.pad(part, ((1, 0), (0, 0))) for part in (self.answers.piece.t, self.answers.piece.f))
        later = np.minimum((known_t < t).sum(axis=0), len(known_t) - 1)
        each = np.arange(len(t))
        low_t, high_t = known_t[later - 1, each], known_t[later, each]
        low_f, high_f = known_f[later - 1, each], known_f[later, each]
        share = np.divide(t - low_t, high_t - low_t, out=np.ones_like(t), where=high_t > low_t)
        return low_f + np.clip(share, 0, 1) * (high_f - low_f)

    def first_reached(self, *levels):
        """For each of `levels` (segments,): the first time at which the chance reaches it, which is between the first
        two readings (or the fitting and the first) that have it between them; the last reading at the latest."""
        times = np.pad(self.answers.piece.t, ((1, 0), (0, 0)))
        chances = np.stack([self.chance_at(t) for t in times])
        return [self._between(times, chances, level) for level in levels]

    def _between(self, times, chances, level):
        each, goal = np.arange(times.shape[1]), _probit(level)
        reached = chances >= level
        reached[-1] = True
        after = reached.argmax(axis=0)
        before = np.maximum(after - 1, 0)
        low, high = times[before, each], times[after, each]
        under, over = (_probit(chances[row, each]) - goal for row in (before, after))
        # false position, the older end halved where it stays (Illinois; Dowell & Jarratt 1971, BIT 11, 168-174)
        stayed = np.zeros(len(each))
        for _ in range(STEPS):
            middle = _met(low, high, under, over)
            there = _probit(self.chance_at(middle)) - goal
            up = there >= 0
            under = np.where(up, np.where(stayed > 0, under / 2, under), there)
            over = np.where(up, there, np.where(stayed < 0, over / 2, over))
            low, high, stayed = np.where(up, low, middle), np.where(up, middle, high), np.where(up, 1.0, -1.0)
        return _met(low, high, under, over)


def _met(low, high, under, over):
    """Where the straight line from (low, under) to (high, over) meets 0; high where it does not rise."""
    share = np.divide(-under, over - under, out=np.ones_like(over), where=over > under)
    return low + np.clip(share, 0.0, 1.0) * (high - low)


def _probit(chance):
    """Normal quantile: nearly straight in time where a chance is not."""
    from scipy.special import ndtri

    return ndtri(np.clip(chance, 1e-300, 1 - 1e-16))
