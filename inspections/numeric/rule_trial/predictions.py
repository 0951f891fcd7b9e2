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
# of more rows than one in so many it is quicker to answer for all
MANY = 10


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
        self.by_length = np.tile(places.length_m ** knowledge.powers[:, None], worlds)
        self.edges = np.searchsorted(bench, np.arange(bench[-1] + 2))
        self.bench_of_row = (np.arange(worlds)[:, None] * (bench[-1] + 1) + bench).ravel()
        self.shared = SharedTerms(knowledge.mean_lines, worlds, bench[-1] + 1, checks, knowledge.day2)
        self.level, self.rate, self.c00, self.c01, self.c11, self.q = (np.tile(v, worlds) for v in knowledge.fresh)
        # how far level and rate move with each of the shared terms: (terms + checks, rows)
        self.level_moves, self.rate_moves = np.zeros((2, len(knowledge.mean_lines) + checks, len(self.q)))
        self.at, self.since = np.zeros((2, len(self.q)))
        lowered = places.limit_db - SETTLING_MET * max(knowledge.settling_db, 0.0)
        self.limit_db, self.risk = np.tile(lowered, worlds), np.tile(places.accepted_risk, worlds)

    def fit_fresh(self, rows, since):
        """Fresh cables, of which no more is known than what they are."""
        place = rows % self.places
        for name, values in zip(("level", "rate", "c00", "c01", "c11"), self.knowledge.fresh, strict=False):
            getattr(self, name)[rows] = values[place]
        lengths, terms = self.by_length[:, rows], len(self.knowledge.powers)
        self.level_moves[:, rows], self.rate_moves[:, rows] = 0.0, 0.0
        self.level_moves[:terms, rows] = lengths
        self.rate_moves[terms : 2 * terms, rows] = lengths * self.knowledge.pace[place]
        self.at[rows] = self.since[rows] = since

    def read_alone(self, rows, day, loss_db):
        """Each is read on a bench day of its own, so with that day's whole variance."""
        self._advance(rows, day)
        left, noise = loss_db - self._expected(rows, day), self.knowledge.sigma2 + self.knowledge.day2
        moves, weight = self.level_moves[: self.used, rows], 1 / (self.c00[rows] + noise)
        self.shared.hear(rows // self.places, moves, left, weight)
        self._learn(rows, left, moves, noise)

    def check(self, day, loss_db):
        """All are read on `day`, each bench with a shift of its own."""
        self._advance(ALL, day)
        left, weight = loss_db - self._expected(ALL, day), 1 / (self.c00 + self.knowledge.sigma2)
        both = np.concatenate([self.level_moves[: self.used], np.ones((1, len(left))), left[None]])
        self.shared.check(self._sums(both, weight))
        self._learn(ALL, left, both[:-1], self.knowledge.sigma2)

    @property
    def used(self):
        """How many shared terms there are by now."""
        return self.shared.terms + self.shared.checks

    def _sums(self, both, weight):
        """Weighed products of rows (columns, rows) over each bench: (worlds, benches, columns, columns)."""
        parts = zip(self._by_bench(both), self._by_bench(both * weight), strict=True)
        return np.stack([part @ weighed.swapaxes(1, 2) for part, weighed in parts], axis=1)

    def _by_bench(self, moves):
        """Of each bench (worlds, columns, its places)."""
        by_world = moves.reshape(len(moves), self.worlds, self.places).swapaxes(0, 1)
        return [by_world[..., start:end] for start, end in pairwise(self.edges)]

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
        if len(rows) > len(self.at) // MANY:
            shared = self._shared_of_all()[:, rows]
        else:
            of_bench, used = self.bench_of_row[rows], self.used
            covariance = self.shared.covariance.reshape(-1, used, used)[of_bench]
            mean = self.shared.mean.reshape(-1, used)[of_bench]
            shared = _shared(self.level_moves[:used, rows].T, self.rate_moves[:used, rows].T, mean, covariance)
        own = (self.level, self.rate, self.c00, self.c01, self.c11)
        return SegmentStates(*(part[rows] + more for part, more in zip(own, shared, strict=True)), self.q[rows])

    def _shared_of_all(self):
        """What the shared terms add to level, rate and their covariances: five arrays, one row a place."""
        added = np.empty((5, self.worlds, self.places))
        moves = (self._by_bench(part[: self.used]) for part in (self.level_moves, self.rate_moves))
        for bench, (by_level, by_rate) in enumerate(zip(*moves, strict=True)):
            mean, covariance = self.shared.mean[:, bench, None], self.shared.covariance[:, bench]
            of_level, of_rate = covariance @ by_level, covariance @ by_rate
            there = added[..., slice(*self.edges[bench : bench + 2])]
            there[0], there[1] = (mean @ by_level)[:, 0], (mean @ by_rate)[:, 0]
            products = ((of_level, by_level), (of_level, by_rate), (of_rate, by_rate))
            for row, (left, right) in enumerate(products, 2):
                there[row] = np.einsum("wap,wap->wp", left, right)
        return added.reshape(5, -1)

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
        self.level_moves[: self.used, rows] += self.rate_moves[: self.used, rows] * ahead
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
        self.level_moves[: len(moves), rows] -= gain0 * moves
        self.rate_moves[: len(moves), rows] -= gain1 * moves
        self.c11[rows] -= gain1 * c01
        self.c01[rows] -= gain1 * c00
        self.c00[rows] -= gain0 * c00


def _shared(by_level, by_rate, mean, covariance):
    """The same of some rows: (rows, terms) twice, (rows, terms) and (rows, terms, terms)."""
    of_level, of_rate = (np.einsum("ra,rab->rb", moves, covariance) for moves in (by_level, by_rate))
    products = ((by_level, mean), (by_rate, mean), (of_level, by_level), (of_level, by_rate), (of_rate, by_rate))
    return [np.einsum("ra,ra->r", left, right) for left, right in products]
