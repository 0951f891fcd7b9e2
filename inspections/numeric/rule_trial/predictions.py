"""What the keeper's trend knows of each cable as readings come in: the pooled model as a filter, in arrays.

Of each cable a Kalman filter of loss and rate (x' = b, wander of variance q a year), for the mean lines as the fit has
them; beside it how far its answer moves with these mean lines, of which each check tells more (the augmented filter of
de Jong 1991, Annals of Statistics 19, 1073-1083; from memory, tested against `segment_trends`). A reading is x less
what still settles, plus its bench day's shift and its own scatter. The variance parameters and the settling stand at
the means of the fit, and readings at fitting tell of their cable alone.
"""

from dataclasses import dataclass

import numpy as np

from ..crossings import CONDITION_FROM, FALLING_ABOVE, SETTLING_MET, joint_chance
from ..reading_blocks import settled
from ..wear_model import SETTLING_PRIOR
from ..wear_states import SegmentStates
from .worlds import by_the_year

# halvings of the time to the next check: to a day or so
HALVINGS = 10
TINY = 1e-12
ALL = slice(None)


@dataclass(frozen=True)
class Knowledge:
    """What a fit knows: `fresh` of a fresh cable at each place (places,), by the year, all that settles settled, with
    the spread of cables about the mean lines; `mean_lines`: covariance of these (level and rate, each with its length
    terms), of which `powers` (terms,) of the length are; dB: `settling_db`, variances of reading and bench day."""

    fresh: SegmentStates
    mean_lines: np.ndarray
    powers: np.ndarray
    pace: np.ndarray
    settling_db: float
    sigma2: float
    day2: float
    by_years: bool

    @classmethod
    def of(cls, points, places, *, by_years=True):
        """Of PoolPoints at Places: means over the points; what they and the fixed part leave open is in
        `mean_lines`."""
        w, columns, unit = points.weight, points.columns, np.ones(len(places))
        mean, terms = w @ points.values, columns.free // 2
        apart = points.values - mean
        fixed = np.einsum("g,gab->ab", w * points.sigma2, points.fixed) + np.einsum("g,ga,gb->ab", w, apart, apart)
        settled_too = np.eye(columns.free, len(columns))
        settled_too[0, columns.free :] = SETTLING_PRIOR
        settled_too[terms:] /= points.scale
        powers = np.array(columns.powers[:terms])
        c00, c01, c11, q, day2 = points.variances @ (w * points.sigma2)
        level, rate = (settled_too @ mean).reshape(2, terms) @ places.length_m ** powers[:, None]
        cables = SegmentStates(level, rate, *(part * unit for part in (c00, c01, c11, q)))
        in_units = SegmentStates(level, rate, cables.c00, *_to_units(cables, points.scale))
        return cls(
            fresh=by_the_year(in_units, places.pace),
            mean_lines=settled_too @ fixed @ settled_too.T,
            powers=powers,
            pace=places.pace,
            settling_db=float(SETTLING_PRIOR * mean[-1]) if points.settling else 0.0,
            sigma2=float(w @ points.sigma2),
            day2=float(day2),
            by_years=by_years,
        )

    def unsettled_db(self, age):
        """What has yet to settle at an age in years."""
        return self.settling_db * (1 - settled(age)) if self.by_years else np.zeros_like(age)


def _to_units(states, scale):
    return states.c01 / scale, states.c11 / scale**2, states.q / scale


class MeanLines:
    """Of each world what is known of the mean lines beyond the fit: `beyond` (worlds, terms), of covariance
    `covariance` (worlds, terms, terms)."""

    def __init__(self, known, worlds):
        self.known, self.worlds = np.linalg.inv(known), worlds
        self.forget()

    def forget(self):
        """Back to what the fit knew."""
        self.information = np.tile(self.known, (self.worlds, 1, 1))
        self.weighed = np.zeros((self.worlds, len(self.known)))
        self._solve()

    def hear(self, world, moves, left, weight):
        """Take in readings that lie `left` above what was expected, which the next `learn` makes use of."""
        np.add.at(self.information, world, (weight[:, None] * moves)[:, :, None] * moves[:, None, :])
        np.add.at(self.weighed, world, (weight * left)[:, None] * moves)

    def learn(self, information, weighed):
        self.information += information
        self.weighed += weighed
        self._solve()

    def _solve(self):
        self.covariance = np.linalg.inv(self.information)
        self.beyond = np.einsum("wab,wb->wa", self.covariance, self.weighed)


class Predictions:
    """Of the cable in each place of all worlds, in a row (worlds * places): loss and rate known at `at`.

    `bench_day` (places,): number of the day of a check that reads each place, rising.
    """

    def __init__(self, knowledge, places, bench_day, worlds):
        self.knowledge, self.places, self.worlds = knowledge, len(places), worlds
        self.by_length = np.tile(places.length_m[:, None] ** knowledge.powers, (worlds, 1))
        self.lines = MeanLines(knowledge.mean_lines, worlds)
        self.day_edges = np.searchsorted(bench_day, np.arange(bench_day[-1] + 2))
        self.level, self.rate, self.c00, self.c01, self.c11, self.q = (np.tile(v, worlds) for v in knowledge.fresh)
        # how far level and rate move with each term of the mean lines
        self.level_moves, self.rate_moves = np.zeros((2, len(self.q), len(knowledge.mean_lines)))
        self.at, self.since = np.zeros((2, len(self.q)))
        lowered = places.limit_db - SETTLING_MET * max(knowledge.settling_db, 0.0)
        self.limit_db, self.risk = np.tile(lowered, worlds), np.tile(places.accepted_risk, worlds)

    def fit_fresh(self, rows, since):
        """Fresh cables, of which no more is known than what they are."""
        place = rows % self.places
        for name, values in zip(("level", "rate", "c00", "c01", "c11"), self.knowledge.fresh, strict=False):
            getattr(self, name)[rows] = values[place]
        lengths, none = self.by_length[rows], np.zeros((len(rows), len(self.knowledge.powers)))
        self.level_moves[rows] = np.hstack([lengths, none])
        self.rate_moves[rows] = np.hstack([none, lengths * self.knowledge.pace[place][:, None]])
        self.at[rows] = self.since[rows] = since

    def read_alone(self, rows, day, loss_db):
        """Each is read on a bench day of its own, so with that day's whole variance."""
        self._advance(rows, day)
        left, noise = loss_db - self._expected(rows, day), self.knowledge.sigma2 + self.knowledge.day2
        moves, weight = self.level_moves[rows], 1 / (self.c00[rows] + noise)
        self.lines.hear(rows // self.places, moves, left, weight)
        self._learn(rows, left, moves, noise)

    def check(self, day, loss_db):
        """All are read on `day`, on the bench days of their places, whose shifts the others on them tell."""
        self._advance(ALL, day)
        left, weight = loss_db - self._expected(ALL, day), 1 / (self.c00 + self.knowledge.sigma2)
        both = np.column_stack([self.level_moves, np.ones(len(left)), left])
        self.lines.learn(*_without_shifts(self._sums_of_days(both, weight), self.knowledge.day2))
        # the shift of its day, as the others on it tell, moves with the mean lines too
        shift, variance = self._shifts(both, weight)
        *moves, _, left = (both - shift).T
        self._learn(ALL, left, np.stack(moves, axis=1), self.knowledge.sigma2 + variance)

    def _sums_of_days(self, both, weight):
        """Weighed products over each bench day: (days, worlds, columns, columns)."""
        both = both.reshape(self.worlds, self.places, -1)
        weighed = both * weight.reshape(self.worlds, self.places, 1)
        spans = [slice(*edges) for edges in zip(self.day_edges[:-1], self.day_edges[1:], strict=True)]
        return np.stack([weighed[:, span].swapaxes(1, 2) @ both[:, span] for span in spans])

    def _shifts(self, both, weight):
        """(shift, variance) of its bench day for each reading, as the other readings of that day tell it: of each
        column."""
        days, shape = np.diff(self.day_edges), (self.worlds, self.places, -1)

        def of_others(part):
            sums = np.add.reduceat(part.reshape(shape), self.day_edges[:-1], axis=1)
            return np.repeat(sums, days, axis=1).reshape(part.shape) - part

        others = of_others(weight[:, None]) + 1 / max(self.knowledge.day2, TINY)
        return of_others(weight[:, None] * both) / others, 1 / others[:, 0]

    def due_before(self, rows, until):
        """Day on which the chance of each of these rows reaches its accepted risk; inf where not before `until`."""
        days = np.full(len(rows), np.inf)
        rising, chance_at = self._chances(rows)
        asked = np.flatnonzero(rising)
        for rough in (True, False):
            asked = asked[chance_at(asked, until, rough) >= self.risk[rows[asked]]]
        low, high = self.at[rows[asked]], np.full(len(asked), float(until))
        first = chance_at(asked, low) >= self.risk[rows[asked]]
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            reached = chance_at(asked, middle) >= self.risk[rows[asked]]
            low, high = np.where(reached, low, middle), np.where(reached, middle, high)
        days[asked] = np.where(first, self.at[rows[asked]], high)
        return days

    def states(self, rows):
        """SegmentStates of these rows at their `at`, with what is known and not known of the mean lines."""
        world = rows // self.places
        by_level, by_rate = self.level_moves[rows], self.rate_moves[rows]
        beyond, covariance = self.lines.beyond[world], self.lines.covariance[world]
        of_level, of_rate = (np.einsum("ra,rab->rb", moves, covariance) for moves in (by_level, by_rate))
        return SegmentStates(
            level=self.level[rows] + _dot(by_level, beyond),
            rate=self.rate[rows] + _dot(by_rate, beyond),
            c00=self.c00[rows] + _dot(of_level, by_level),
            c01=self.c01[rows] + _dot(of_level, by_rate),
            c11=self.c11[rows] + _dot(of_rate, by_rate),
            q=self.q[rows],
        )

    def _chances(self, rows):
        """(which rows do not fall, their chance of being over on a day): conditioned on a rate that does not fall where
        that is not out of the question, as `crossings` has it; `rough`: never below it."""
        from scipy.special import ndtr

        states = self.states(rows)
        falls = ndtr(-states.rate / np.sqrt(np.maximum(states.c11, TINY)))

        def chance_at(chosen, day, rough=False):
            some, ahead = states.take(chosen), day - self.at[rows[chosen]]
            limit_db = self.limit_db[rows[chosen]] + self.knowledge.unsettled_db(day - self.since[rows[chosen]])
            chance = ndtr((some.at(ahead) - limit_db) / some.sd_at(ahead))
            if rough:
                return chance / (1 - falls[chosen])
            conditioned = np.flatnonzero(falls[chosen] >= CONDITION_FROM)
            joint = joint_chance(some.take(conditioned), ahead[conditioned], limit_db[conditioned])
            chance[conditioned] = np.minimum(joint / (1 - falls[chosen][conditioned]), 1.0)
            return chance

        return falls <= FALLING_ABOVE, chance_at

    def _expected(self, rows, day):
        return self.level[rows] - self.knowledge.unsettled_db(day - self.since[rows])

    def _advance(self, rows, day):
        ahead, c01, c11 = day - self.at[rows], self.c01[rows], self.c11[rows]
        self.level[rows] += self.rate[rows] * ahead
        self.level_moves[rows] += self.rate_moves[rows] * np.reshape(ahead, (-1, 1))
        self.c00[rows] += ahead * (2 * c01 + self.q[rows] + ahead * c11)
        self.c01[rows] += ahead * c11
        self.at[rows] = day

    def _learn(self, rows, left, moves, noise):
        """Take in a reading that lies `left` above what was expected, which moves with the mean lines, of variance
        `noise`."""
        c00, c01 = self.c00[rows], self.c01[rows]
        gain0, gain1 = c00 / (c00 + noise), c01 / (c00 + noise)
        self.level[rows] += gain0 * left
        self.rate[rows] += gain1 * left
        self.level_moves[rows] -= gain0[:, None] * moves
        self.rate_moves[rows] -= gain1[:, None] * moves
        self.c11[rows] -= gain1 * c01
        self.c01[rows] -= gain1 * c00
        self.c00[rows] -= gain0 * c00


def _dot(left, right):
    return np.einsum("ra,ra->r", left, right)


def _without_shifts(sums, day2):
    """(information, weighed) of the mean lines over all bench days, their shifts integrated out: (worlds, terms, terms)
    and (worlds, terms)."""
    of_lines, with_one = sums[..., :-2, :-2], sums[..., :-2, -2]
    shifts = sums[..., -2, -2] + 1 / max(day2, TINY)
    information = of_lines - with_one[..., :, None] * with_one[..., None, :] / shifts[..., None, None]
    weighed = sums[..., :-2, -1] - with_one * (sums[..., -2, -1] / shifts)[..., None]
    return information.sum(axis=0), weighed.sum(axis=0)
