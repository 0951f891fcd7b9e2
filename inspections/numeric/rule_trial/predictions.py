"""What the keeper's trend knows of each cable as readings come in: the pooled model as a filter, in arrays.

Of each cable a Kalman filter of loss and rate (x' = b, wander of variance q a year), for the mean lines of the fit and
bench days without a shift; beside it how far its answer moves with these shared terms, of which the readings of all
cables tell (the augmented filter of de Jong 1991, Annals of Statistics 19, 1073-1083; from memory, tested against the
normal distribution of everything at once). A reading is x less what still settles, plus its bench day's shift and its
own scatter. The variance parameters and the settling stand at the means of the fit.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..crossings import CONDITION_FROM, FALLING_ABOVE, SETTLING_MET, joint_chance
from ..reading_blocks import settled
from ..wear_model import SETTLING_PRIOR
from ..wear_states import SegmentStates
from .shared_terms import SharedTerms
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


class Predictions:
    """Of the cable in each place of all worlds, in a row (worlds * places): loss and rate known at `at`.

    `bench` (places,): number, rising, of the bench that reads each place at each of so many `checks`.
    """

    def __init__(self, knowledge, places, bench, worlds, checks):
        self.knowledge, self.places, self.worlds = knowledge, len(places), worlds
        self.by_length = np.tile(places.length_m[:, None] ** knowledge.powers, (worlds, 1))
        self.edges = np.searchsorted(bench, np.arange(bench[-1] + 2))
        self.bench_of_row = (np.arange(worlds)[:, None] * (bench[-1] + 1) + bench).ravel()
        self.shared = SharedTerms(knowledge.mean_lines, worlds, bench[-1] + 1, checks, knowledge.day2)
        self.level, self.rate, self.c00, self.c01, self.c11, self.q = (np.tile(v, worlds) for v in knowledge.fresh)
        # how far level and rate move with each of the shared terms
        self.level_moves, self.rate_moves = np.zeros((2, len(self.q), len(knowledge.mean_lines) + checks))
        self.at, self.since = np.zeros((2, len(self.q)))
        lowered = places.limit_db - SETTLING_MET * max(knowledge.settling_db, 0.0)
        self.limit_db, self.risk = np.tile(lowered, worlds), np.tile(places.accepted_risk, worlds)

    def fit_fresh(self, rows, since):
        """Fresh cables, of which no more is known than what they are."""
        place = rows % self.places
        for name, values in zip(("level", "rate", "c00", "c01", "c11"), self.knowledge.fresh, strict=False):
            getattr(self, name)[rows] = values[place]
        lengths, terms = self.by_length[rows], len(self.knowledge.powers)
        self.level_moves[rows], self.rate_moves[rows] = 0.0, 0.0
        self.level_moves[rows, :terms] = lengths
        self.rate_moves[rows, terms : 2 * terms] = lengths * self.knowledge.pace[place][:, None]
        self.at[rows] = self.since[rows] = since

    def read_alone(self, rows, day, loss_db):
        """Each is read on a bench day of its own, so with that day's whole variance."""
        self._advance(rows, day)
        left, noise = loss_db - self._expected(rows, day), self.knowledge.sigma2 + self.knowledge.day2
        moves, weight = self.level_moves[rows][:, : self.used], 1 / (self.c00[rows] + noise)
        self.shared.hear(rows // self.places, moves, left, weight)
        self._learn(rows, left, moves, noise)

    def check(self, day, loss_db):
        """All are read on `day`, each bench with a shift of its own."""
        self._advance(ALL, day)
        left, weight = loss_db - self._expected(ALL, day), 1 / (self.c00 + self.knowledge.sigma2)
        moves = np.column_stack([self.level_moves[:, : self.used], np.ones(len(left))])
        self.shared.check(self._sums(np.column_stack([moves, left]), weight))
        self._learn(ALL, left, moves, self.knowledge.sigma2)

    @property
    def used(self):
        """How many shared terms there are by now."""
        return self.shared.terms + self.shared.checks

    def _sums(self, both, weight):
        """Weighed products over each bench: (worlds, benches, columns, columns)."""
        both = both.reshape(self.worlds, self.places, -1)
        weighed = both * weight.reshape(self.worlds, self.places, 1)
        spans = [slice(*ends) for ends in pairwise(self.edges)]
        return np.stack([weighed[:, span].swapaxes(1, 2) @ both[:, span] for span in spans], axis=1)

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
        """SegmentStates of these rows at their `at`, with what is known and not known of the shared terms."""
        of_bench = self.bench_of_row[rows]
        mean = self.shared.mean.reshape(-1, self.used)[of_bench]
        covariance = self.shared.covariance.reshape(-1, self.used, self.used)
        by_level, by_rate = self.level_moves[rows][:, : self.used], self.rate_moves[rows][:, : self.used]
        of_level, of_rate = (_times_each(moves, covariance, of_bench) for moves in (by_level, by_rate))
        return SegmentStates(
            level=self.level[rows] + _dot(by_level, mean),
            rate=self.rate[rows] + _dot(by_rate, mean),
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
        self.level_moves[rows, : self.used] += self.rate_moves[rows, : self.used] * np.reshape(ahead, (-1, 1))
        self.c00[rows] += ahead * (2 * c01 + self.q[rows] + ahead * c11)
        self.c01[rows] += ahead * c11
        self.at[rows] = day

    def _learn(self, rows, left, moves, noise):
        """Take in a reading that lies `left` above what was expected, which moves with the shared terms by `moves`,
        of variance `noise`."""
        c00, c01 = self.c00[rows], self.c01[rows]
        gain0, gain1 = c00 / (c00 + noise), c01 / (c00 + noise)
        self.level[rows] += gain0 * left
        self.rate[rows] += gain1 * left
        self.level_moves[rows, : moves.shape[1]] -= gain0[:, None] * moves
        self.rate_moves[rows, : moves.shape[1]] -= gain1[:, None] * moves
        self.c11[rows] -= gain1 * c01
        self.c01[rows] -= gain1 * c00
        self.c00[rows] -= gain0 * c00


def _dot(left, right):
    return np.einsum("ra,ra->r", left, right)


def _times_each(moves, covariance, of_bench):
    """Each row of moves times the covariance of its bench; rows of a bench stand side by side."""
    edges = np.flatnonzero(np.diff(of_bench, prepend=-1, append=-1))
    if len(edges) - 1 > len(moves) // 4:
        return np.einsum("ra,rab->rb", moves, covariance[of_bench])
    parts = [moves[start:end] @ covariance[of_bench[start]] for start, end in pairwise(edges)]
    return np.concatenate(parts) if parts else moves
