"""Share over by age as observed, with no form of curve assumed: the nonparametric maximum likelihood estimate of
interval-censored, left-truncated lives (Turnbull 1976; with truncation Frydman 1994).

Lives are (low, high]: an end that is shared by a *within* and an *over* tells them apart. Closed intervals, which some
programs take, change the answer (Fay & Shaw 2010, table 2: 3/7 in place of 3/14 at 10).
"""

from dataclasses import dataclass

import numpy as np

# A mass below this is none, and steps until the log likelihood gains less than this by each of them end the search.
NO_MASS, ENOUGH = 1e-13, 1e-13
# at the maximum no mass can gain more than this of one life's weight
KUHN_TUCKER = 1e-9
ROUNDS, STEPS_A_ROUND = 200, 20
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

    Ends are every `high` and, with truncation, every `entry`: mass below it is in nobody's way. `within`, `before`: of
    each life (rows) whether a span (columns) lies in (low, high], and whether it lies before its entry.
    """

    left: np.ndarray
    right: np.ndarray
    within: np.ndarray
    before: np.ndarray

    @classmethod
    def of(cls, lives):
        low = np.where(lives.is_exact, np.nextafter(lives.low, -np.inf), lives.low)
        left, right = _innermost(low, np.concatenate([lives.high, lives.entry]))
        within = (left >= low[:, None]) & (right <= lives.high[:, None])
        return cls(left, right, within.astype(float), (left < lives.entry[:, None]).astype(float))


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
    spans, weights = _counted(Spans.of(lives), np.ones(len(lives)) if weights is None else np.asarray(weights, float))
    mass = np.full(len(spans.left), 1 / len(spans.left))
    for _ in range(ROUNDS):
        mass = _expected(spans, weights, mass, STEPS_A_ROUND)
        mass = _newton(spans, weights, mass)
        gain = _gain(spans, weights, mass)
        if gain.max() < KUHN_TUCKER * weights.sum():
            break
        # what Newton's step left without mass, though it would gain, has a little again
        mass = np.where((mass <= NO_MASS) & (gain > 0), 1e-3 / len(mass), mass)
        mass = mass / mass.sum()
    kept = mass > NO_MASS
    return Turnbull(spans.left[kept], spans.right[kept], mass[kept], _log_likelihood(spans, weights, mass))


def resampled_shares(lives, fitted, weights, ages):
    """(least, most) share over by these ages, both (draws, ages), of lives that count as often as `weights` (draws,
    lives) says.

    Starts at the estimate of all lives and takes some steps of expectation and maximisation for all draws at once.
    """
    spans = Spans.of(lives)
    mass = np.full((len(weights), len(spans.left)), 0.1 / len(spans.left))
    mass[:, np.searchsorted(spans.left, fitted.left)] += 0.9 * fitted.mass
    spans, weights = _counted(spans, weights)
    mass = _expected(spans, weights, mass, RESAMPLED_STEPS)
    share = np.concatenate([np.zeros((len(mass), 1)), np.cumsum(mass, axis=1)], axis=1)
    least, most = np.searchsorted(spans.right, ages, side="right"), np.searchsorted(spans.left, ages, side="left")
    return share[:, least], share[:, most]


def _counted(spans, weights):
    """Lives that are alike as one, with the sum of their weights (…, lives)."""
    alike = np.concatenate([spans.within, spans.before], axis=1).astype(np.int8)
    _, first, row = np.unique(alike, axis=0, return_index=True, return_inverse=True)
    summed = np.zeros((*weights.shape[:-1], len(first)))
    np.add.at(summed, (..., row.ravel()), weights)
    return Spans(spans.left, spans.right, spans.within[first], spans.before[first]), summed


def _chances(spans, mass):
    """P(low < life ≤ high) and P(life > entry) of each life."""
    return mass @ spans.within.T, 1 - mass @ spans.before.T


def _log_likelihood(spans, weights, mass):
    seen, watched = _chances(spans, mass)
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(weights > 0, weights * (np.log(seen) - np.log(watched)), 0.0)
    return float(terms.sum())


def _expected(spans, weights, mass, steps):
    """Turnbull's self-consistency: each life shared out over its spans, and what truncation hid added."""
    for _ in range(steps):
        seen, watched = _chances(spans, mass)
        count = weights / np.maximum(seen, 1e-300)
        hidden = weights / np.maximum(watched, 1e-300)
        mass = mass * (count @ spans.within + hidden @ spans.before)
        mass = mass / mass.sum(axis=-1, keepdims=True)
    return mass


def _gain(spans, weights, mass):
    """What the log likelihood gains by mass that is added to each span; 0 where it has what it should have."""
    seen, watched = _chances(spans, mass)
    return (weights / seen) @ spans.within - (weights / watched) @ (1 - spans.before)


def _newton(spans, weights, mass):
    """Newton's steps of the log likelihood over spans with mass, whose sum stays; a span that a step empties leaves."""
    value = _log_likelihood(spans, weights, mass)
    for _ in range(100):
        mass = np.where(mass > NO_MASS, mass, 0.0)
        mass = mass / mass.sum()
        step = _newton_step(spans, weights, mass)
        tried, tried_value = _along(spans, weights, mass, step, value)
        if tried_value - value < ENOUGH * abs(value):
            return tried if tried_value >= value else mass
        mass, value = tried, tried_value
    return mass


def _newton_step(spans, weights, mass):
    has = mass > 0
    within, after = spans.within[:, has], 1 - spans.before[:, has]
    seen, watched = _chances(spans, mass)
    gain = (weights / seen) @ within - (weights / watched) @ after
    curvature = within.T @ ((weights / seen**2)[:, None] * within) - after.T @ ((weights / watched**2)[:, None] * after)
    count = len(gain)
    # the sum of all steps is nought: one more row, as for any equality
    bordered = np.ones((count + 1, count + 1))
    bordered[:count, :count], bordered[count, count] = curvature, 0.0
    step = np.zeros(len(mass))
    step[has] = np.linalg.lstsq(bordered, np.append(gain, 0.0), rcond=1e-12)[0][:count]
    return step


def _along(spans, weights, mass, step, value):
    """(mass, log likelihood) along a step, shortened until it gains: what would fall below nought is emptied."""
    for length in 0.5 ** np.arange(30):
        tried = np.maximum(mass + length * step, 0.0)
        tried /= tried.sum()
        tried_value = _log_likelihood(spans, weights, tried)
        if tried_value > value:
            return tried, tried_value
    return mass, value
