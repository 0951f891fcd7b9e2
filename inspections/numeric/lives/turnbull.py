"""Share over by age as observed, with no form of curve assumed: the nonparametric maximum likelihood estimate of
interval-censored, left-truncated lives (Turnbull 1976; with truncation Frydman 1994).

Lives are (low, high]: an end that is shared by a *within* and an *over* tells them apart. Closed intervals, which some
programs take, change the answer (Fay & Shaw 2010, table 2: 3/7 in place of 3/14 at 10).
"""

from dataclasses import dataclass

import numpy as np

# A mass below this is none, and Newton's steps end once the log likelihood gains less than this by one of them.
NO_MASS, ENOUGH = 1e-13, 1e-13
# a hazard is no higher: what all were over by leaves this share, so that those who came later still have a life
CERTAIN = 1 - 1e-13
FLAT = 1e-11
# at the maximum no mass can gain more than this of one life's weight
KUHN_TUCKER = 1e-9
FIRST_STEPS, ROUNDS = 20, 200
# with late entries the likelihood is not concave, and expectation and maximisation go on until hazards move by less
LATE_STEPS, LATE_ENOUGH = 5_000, 1e-9
# of resampled lives, whose estimates start at that of all lives: a share is then settled to less than its band's width
RESAMPLED_STEPS = 200


@dataclass(frozen=True)
class Turnbull:
    """`mass` of lives that end in (left, right], arrays in order of age; where in such a span nothing tells.

    The last `right` may be inf: what outlives all that was watched.
    """

    left: np.ndarray
    right: np.ndarray
    mass: np.ndarray
    log_likelihood: float

    def share_over(self, ages):
        """Share over by these ages, all that end within a span counted at its end: the least it can be. Array."""
        return _share_by(self.right, self.mass, ages, "right")

    def most_over(self, ages):
        """The same, all that end within a span counted at its beginning: the most it can be. Array."""
        return _share_by(self.left, self.mass, ages, "left")

    def age_at(self, share):
        """(left, right] of the span within which that share is reached; (inf, inf) where it was not seen."""
        row = np.searchsorted(np.cumsum(self.mass), share - NO_MASS)
        known = row < len(self.mass) and np.isfinite(self.right[row])
        return (float(self.left[row]), float(self.right[row])) if known else (np.inf, np.inf)


def _share_by(ends, mass, ages, side):
    share = np.append(0.0, np.cumsum(mass))
    return share[np.searchsorted(ends, ages, side=side)]


@dataclass(frozen=True)
class Spans:
    """The only spans that can hold mass: each from a `low` to the next end with none between (Turnbull 1976).

    Ends are every `high` and, with truncation, every `entry`: mass below it is in nobody's way. Of each life the spans
    from `start` up to, not including, `stop` lie in (low, high], and the first `before` lie before its entry.
    """

    left: np.ndarray
    right: np.ndarray
    start: np.ndarray
    stop: np.ndarray
    before: np.ndarray

    @classmethod
    def of(cls, lives):
        low = np.where(lives.is_exact, np.nextafter(lives.low, -np.inf), lives.low)
        left, right = _innermost(low, np.concatenate([lives.high, lives.entry]))
        start, before = np.searchsorted(left, low), np.searchsorted(left, lives.entry)
        return cls(left, right, start, np.searchsorted(right, lives.high, side="right"), before)

    def counted(self, weights):
        """(Spans of lives that differ, their weights (…, lives)): those that are alike as one."""
        alike = np.stack([self.start, self.stop, self.before], axis=1)
        kinds, row = np.unique(alike, axis=0, return_inverse=True)
        summed = np.zeros((*weights.shape[:-1], len(kinds)))
        np.add.at(summed, (..., row.ravel()), weights)
        return Spans(self.left, self.right, *kinds.T), summed

    @property
    def within(self):
        """Whether each span (columns) lies in (low, high] of each life (rows)."""
        span = np.arange(len(self.left))
        return ((span >= self.start[:, None]) & (span < self.stop[:, None])).astype(float)

    @property
    def after(self):
        """Whether each span lies beyond the entry of each life."""
        return (np.arange(len(self.left)) >= self.before[:, None]).astype(float)


def _innermost(lows, ends):
    """(left, right] of all spans that begin at one of `lows` and end at one of `ends` with neither between."""
    lows, ends = np.unique(lows), np.unique(ends)
    following = np.searchsorted(ends, lows, side="right")
    lows, following = lows[following < len(ends)], following[following < len(ends)]
    # of several lows before one end the last
    last = np.append(following[1:] != following[:-1], True)[: len(lows)]
    return lows[last], ends[following[last]]


def fit_turnbull(lives, weights=None):
    """Turnbull of Lives (at least one); `weights`: how often each counts, 1 without."""
    weights = np.ones(len(lives)) if weights is None else np.asarray(weights, float)
    spans, weights = Spans.of(lives.take(weights > 0)).counted(weights[weights > 0])
    hazard = _hazard_of(np.full((1, len(spans.left)), 1 / len(spans.left)))
    if spans.before.any():
        mass = _mass_of(_expected(spans, weights[None], hazard, LATE_STEPS, enough=LATE_ENOUGH))[0]
    else:
        mass = _climbed(spans, weights, _mass_of(_expected(spans, weights[None], hazard, FIRST_STEPS))[0])
    kept = mass > NO_MASS
    return Turnbull(spans.left[kept], spans.right[kept], mass[kept], _log_likelihood(spans, weights, mass))


def resampled_shares(lives, fitted, weights, ages):
    """(least, most) share over by these ages, both (draws, ages), of lives that count as often as `weights` (draws,
    lives) says.

    Starts at the estimate of all lives and takes some steps of expectation and maximisation for all draws at once.
    """
    spans, weights = Spans.of(lives).counted(weights)
    start = np.full(len(spans.left), 0.1 / len(spans.left))
    start[np.searchsorted(spans.left, fitted.left)] += 0.9 * fitted.mass
    hazard = np.tile(_hazard_of(start[None]), (len(weights), 1))
    mass = _mass_of(_expected(spans, weights, hazard, RESAMPLED_STEPS))
    share = np.concatenate([np.zeros((len(mass), 1)), np.cumsum(mass, axis=1)], axis=1)
    least, most = np.searchsorted(spans.right, ages, side="right"), np.searchsorted(spans.left, ages, side="left")
    return share[:, least], share[:, most]


def _hazard_of(mass):
    """Chance of each span to end a life that lasted until then; of masses (draws, spans)."""
    return np.minimum(mass / np.cumsum(mass[:, ::-1], axis=1)[:, ::-1], CERTAIN)


def _mass_of(hazard):
    lasted = np.concatenate([np.ones((len(hazard), 1)), np.cumprod(1 - hazard, axis=1)[:, :-1]], axis=1)
    mass = hazard * lasted
    return mass / mass.sum(axis=1, keepdims=True)


def _expected(spans, weights, hazard, steps, enough=0.0):
    """Steps of expectation and maximisation of hazards, of many draws (draws, …) at once.

    Each life ends among its spans as the hazards say, and was at risk from its entry until then; the hazard of a span
    is then what ended there by what was at risk. Nothing that truncation hid is needed (Turnbull 1976 adds it back, to
    the same end).
    """
    ends, waits = _runs(spans, spans.start, spans.stop), _runs(spans, spans.before, spans.start)
    waiting = _summed(waits, weights)
    for _ in range(steps):
        lasted = np.concatenate([np.zeros((len(hazard), 1)), np.cumsum(np.log1p(-hazard), axis=1)], axis=1)
        at_start, at_stop = lasted[:, spans.start], lasted[:, spans.stop]
        count = -weights / np.expm1(np.minimum(at_stop - at_start, -1e-300))
        reached = np.exp(lasted[:, :-1]) * _summed(ends, count * np.exp(-at_start))
        at_risk = waiting + reached - _summed(ends, count * np.exp(at_stop - at_start))
        before, hazard = hazard, np.clip(hazard * reached / np.maximum(at_risk, 1e-300), 0.0, CERTAIN)
        if enough and np.abs(hazard - before).max() < enough:
            break
    return hazard


def _runs(spans, start, stop):
    """Sparse matrix (spans + 1, lives): 1 where the run of a life begins, and −1 where it has ended."""
    from scipy.sparse import csr_array

    life = np.arange(len(start))
    signs = np.repeat([1.0, -1.0], len(start))
    places = (np.concatenate([start, stop]), np.concatenate([life, life]))
    return csr_array((signs, places), shape=(len(spans.left) + 1, len(start)))


def _summed(runs, values):
    """For each span the sum of values (draws, lives) whose runs hold it."""
    return np.cumsum((runs @ values.T)[:-1], axis=0).T


def _log_likelihood(spans, weights, mass):
    return float(weights @ np.log((spans.within @ mass) / (spans.after @ mass)))


def _climbed(spans, weights, mass):
    """The masses at the maximum, of lives that are all watched from new: by Newton's steps, and what these leave
    without mass, though it would gain, has a little again."""
    likelihood = _Likelihood(spans.within, weights)
    for _ in range(ROUNDS):
        mass = _newton(likelihood, mass)
        gain = likelihood.gain(mass)
        if gain.max() < KUHN_TUCKER * weights.sum():
            break
        mass = np.where((mass <= NO_MASS) & (gain > 0), 1e-3 / len(mass), mass)
        mass = mass / mass.sum()
    return mass


@dataclass(frozen=True)
class _Likelihood:
    """Of masses, of lives that are all watched from new: log likelihood and its slopes. `within`: (lives, spans)."""

    within: np.ndarray
    weights: np.ndarray

    def value(self, mass):
        seen = self.within @ mass
        return float(self.weights @ np.log(seen)) if seen.min() > 0 else -np.inf

    def gain(self, mass):
        """What mass that is added to each span gains, taken from all alike; 0 where it has what it should have."""
        return (self.weights / (self.within @ mass)) @ self.within - self.weights.sum()

    def step(self, mass):
        """Newton's step over spans with mass, whose sum stays."""
        has = mass > 0
        within = self.within[:, has]
        seen = within @ mass[has]
        step = np.zeros(len(mass))
        curvature = within.T @ ((self.weights / seen**2)[:, None] * within)
        step[has] = _keeping_the_sum(curvature, (self.weights / seen) @ within)
        return step


def _keeping_the_sum(curvature, gain):
    """The step that solves curvature · step = gain among those whose sum is nought: one more row, as of an equality."""
    count = len(gain)
    bordered = np.ones((count + 1, count + 1))
    # where masses can be moved to and fro for nothing, they stay: a breath of curvature says so
    bordered[:count, :count] = curvature + FLAT * curvature.diagonal().mean() * np.eye(count)
    bordered[count, count] = 0.0
    return np.linalg.solve(bordered, np.append(gain, 0.0))[:count]


def _newton(likelihood, mass):
    """Newton's steps of the log likelihood; a span that a step empties is out of the next."""
    value = likelihood.value(mass)
    for _ in range(100):
        mass = np.where(mass > NO_MASS, mass, 0.0)
        mass = mass / mass.sum()
        tried, tried_value = _along(likelihood, mass, value)
        if tried_value - value < ENOUGH * abs(value):
            return tried if tried_value >= value else mass
        mass, value = tried, tried_value
    return mass


def _along(likelihood, mass, value):
    """(mass, log likelihood) along a step, shortened until it gains: what would fall below nought is emptied."""
    step = likelihood.step(mass)
    for length in 0.5 ** np.arange(30):
        tried = np.maximum(mass + length * step, 0.0)
        tried /= tried.sum()
        tried_value = likelihood.value(tried)
        if tried_value > value:
            return tried, tried_value
    return mass, value
