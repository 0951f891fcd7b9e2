"""Weibull lives by maximum likelihood, from last passes and first fails, with late entry.

S(t) = exp(−z), z = (t/scale)^shape = exp(u), u = shape · (ln t − ln scale). Parameters of the search are ln scale and
ln shape; gradients and Hessians are exact, and many sets of weights are fitted at once.
"""

from dataclasses import dataclass

import numpy as np

# beyond these shapes the readings only say that there is no spread, or nothing but spread
LEAST_LN_SHAPE, MOST_LN_SHAPE = -3.0, 4.0
STEPS, LONGEST_STEP, CONVERGED = 80, 0.7, 1e-12
# of draws: far below what they differ by
RESAMPLED_CONVERGED = 1e-5
HALVINGS = 12


@dataclass(frozen=True)
class Weibull:
    """`se_ln_shape`, `se_ln_scale`: standard errors of the logarithms, by the curvature of the likelihood, each life
    taken as apart; NaN where it has none. `settled`: the likelihood has its maximum inside the range of shapes."""

    shape: float
    scale: float
    log_likelihood: float = np.nan
    se_ln_shape: float = np.nan
    se_ln_scale: float = np.nan
    settled: bool = True

    def survival(self, ages):
        return np.exp(-((np.asarray(ages, float) / self.scale) ** self.shape))

    def share_over(self, ages):
        return -np.expm1(-((np.asarray(ages, float) / self.scale) ** self.shape))

    def age_at(self, share):
        """The age by which that share is over."""
        return self.scale * (-np.log1p(-share)) ** (1 / self.shape)

    @property
    def mean(self):
        from scipy.special import gamma

        return self.scale * gamma(1 + 1 / self.shape)


def fit_weibull(lives, shape=None):
    """Weibull of Lives; None where none was seen over, or every one at its first age: then nothing says how long.

    `shape`: held at that, and the scale alone is fitted.
    """
    if not lives.failures:
        return None
    once = np.ones((1, len(lives)))
    point, value, settled = _fitted(lives, once, _start(lives, once, shape), held=shape is not None)
    errors = _standard_errors(lives, point, held=shape is not None)
    return Weibull(*np.exp(point[0, ::-1]).tolist(), float(value[0]), *errors, bool(settled[0]))


def resampled_weibulls(lives, fitted, weights):
    """(shape, scale) arrays (draws,) of lives that count as often as `weights` (draws, lives) says; NaN where a draw
    holds none that was over. `fitted`: the Weibull of all, at which the search begins."""
    tells = lives.is_over | (lives.low > lives.entry)
    lives, weights = lives.take(tells), weights[:, tells]
    has_any = (weights * lives.is_over).sum(axis=1) > 0
    # where none was over there is no maximum to search for
    weights = np.where(has_any[:, None], weights, 1.0)
    start = np.tile(np.log([fitted.scale, fitted.shape]), (len(weights), 1))
    point, _, _ = _fitted(lives, weights, start, held=False, converged=RESAMPLED_CONVERGED)
    return tuple(np.where(has_any, np.exp(column), np.nan) for column in (point[:, 1], point[:, 0]))


def _fitted(lives, weights, point, *, held, converged=CONVERGED):
    """(points (draws, 2) of ln scale and ln shape, log likelihoods, whether settled) by damped Newton steps."""
    value, gradient, hessian = _likelihood(lives, weights, point)
    for _ in range(STEPS):
        step = _uphill(gradient, hessian, held)
        if np.abs(step).max(initial=0.0) < converged:
            break
        point, (value, gradient, hessian) = _climb(lives, weights, point, value, step)
    inside = (point[:, 1] > LEAST_LN_SHAPE) & (point[:, 1] < MOST_LN_SHAPE)
    return point, value, inside


def _start(lives, weights, shape):
    """The shape 1.5 unless held, and the scale at which so many would be over as were: Σ t^shape/failures."""
    ln_shape = np.log(1.5 if shape is None else shape)
    middle = np.where(lives.is_over, (lives.low + np.where(lives.is_over, lives.high, 0)) / 2, lives.low)
    failures = np.maximum((weights * lives.is_over).sum(axis=1), 0.5)
    middle = middle / middle.max()
    exposure = np.maximum(weights @ middle ** np.exp(ln_shape), 1e-12)
    longest = np.where(lives.is_over, lives.high, lives.low).max()
    ln_scale = np.log(longest) + np.clip(np.log(exposure / failures) / np.exp(ln_shape), -3, 5)
    return np.column_stack([ln_scale, np.full(len(weights), ln_shape)])


def _uphill(gradient, hessian, held):
    """Newton's step, by the sizes of the curvatures where these have the wrong sign; none longer than LONGEST_STEP."""
    if held:
        gradient, hessian = gradient * [1, 0], hessian * [[1, 0], [0, 0]] - np.diag([0.0, 1.0])
    values, vectors = np.linalg.eigh(-hessian)
    along = np.einsum("dij,di->dj", vectors, gradient)
    size = np.maximum(np.abs(values), 1e-9 * np.abs(values).max(axis=1, keepdims=True) + 1e-12)
    step = np.einsum("dij,dj->di", vectors, along / size)
    return step * np.minimum(1.0, LONGEST_STEP / np.maximum(np.abs(step).max(axis=1, keepdims=True), 1e-300))


def _climb(lives, weights, point, value, step):
    """(points along their steps, their likelihood): each step is shortened until its likelihood does not fall."""
    waiting = np.ones(len(point), bool)
    for _ in range(HALVINGS):
        tried = point + step
        tried[:, 1] = np.clip(tried[:, 1], LEAST_LN_SHAPE, MOST_LN_SHAPE)
        found = _likelihood(lives, weights, tried)
        better = waiting & (found[0] >= value - 1e-12 * np.abs(value))
        point = np.where(better[:, None], tried, point)
        waiting = waiting & ~better
        if not waiting.any():
            return point, found
        # those that are there stay; the others try a third of it
        step = np.where(waiting[:, None], step / 3, 0.0)
    return point, _likelihood(lives, weights, point)


def _standard_errors(lives, point, held):
    """(of ln shape, of ln scale)"""
    _, _, hessian = _likelihood(lives, np.ones((1, len(lives))), point)
    curvature = -hessian[0]
    if held:
        return np.nan, float(curvature[0, 0] ** -0.5) if curvature[0, 0] > 0 else np.nan
    if np.linalg.eigvalsh(curvature).min() <= 0:
        return np.nan, np.nan
    variance = np.linalg.inv(curvature).diagonal()
    return float(variance[1] ** 0.5), float(variance[0] ** 0.5)


@dataclass(frozen=True)
class _Hazard:
    """Cumulative hazard z of ages and its derivatives by ln scale (a) and ln shape (b); arrays (draws, lives)."""

    z: np.ndarray
    u: np.ndarray
    a: np.ndarray
    b: np.ndarray
    aa: np.ndarray
    ab: np.ndarray
    bb: np.ndarray

    @classmethod
    def at(cls, ages, point):
        shape = np.exp(point[:, 1:])
        with np.errstate(divide="ignore"):
            u = shape * (np.log(ages) - point[:, :1])
        # beyond e^60 nothing is left to tell apart; an age of nought has no hazard
        u = np.clip(u, -700.0, 60.0)
        z = np.where(ages > 0, np.exp(u), 0.0)
        return cls(z, u, -shape * z, z * u, shape**2 * z, -shape * z * (1 + u), z * u * (1 + u))

    @property
    def columns(self):
        return self.a, self.b, self.aa, self.ab, self.bb


def _likelihood(lives, weights, point):
    """(log likelihoods, gradients (draws, 2), Hessians (draws, 2, 2)) by ln scale and ln shape."""
    low = _Hazard.at(lives.low, point)
    value, parts = -low.z, [-column for column in low.columns]
    late = np.flatnonzero(lives.entry > 0)
    if len(late):
        _add_entries(lives.entry[late], point, late, value, parts)
    seen, exact = np.flatnonzero(lives.is_over & ~lives.is_exact), np.flatnonzero(lives.is_exact)
    if len(seen):
        _add_spans(lives.take(seen), point, seen, value, parts)
    if len(exact):
        _add_exact(lives.low[exact], point, exact, value, parts)
    a, b, aa, ab, bb = ((weights * part).sum(axis=1) for part in parts)
    hessian = np.stack([np.stack([aa, ab], axis=1), np.stack([ab, bb], axis=1)], axis=1)
    return (weights * value).sum(axis=1), np.column_stack([a, b]), hessian


def _add_entries(ages, point, rows, value, parts):
    """−ln S(entry)"""
    entry = _Hazard.at(ages, point)
    value[:, rows] += entry.z
    for part, more in zip(parts, entry.columns, strict=True):
        part[:, rows] += more


def _add_spans(lives, point, rows, value, parts):
    """ln(1 − e^−Δ), Δ = z(high) − z(low), of what was over within a span."""
    low, high = _Hazard.at(lives.low, point), _Hazard.at(lives.high, point)
    gap = np.maximum(high.z - low.z, 1e-300)
    a, b, aa, ab, bb = (in_high - in_low for in_high, in_low in zip(high.columns, low.columns, strict=True))
    h = 1 / np.expm1(np.minimum(gap, 700.0))
    bend = h * (1 + h)
    value[:, rows] += np.log(-np.expm1(-gap))
    added = (h * a, h * b, h * aa - bend * a * a, h * ab - bend * a * b, h * bb - bend * b * b)
    for part, more in zip(parts, added, strict=True):
        part[:, rows] += more


def _add_exact(ages, point, rows, value, parts):
    """ln hazard = ln shape − ln t + u of what is known to the day."""
    shape = np.exp(point[:, 1:])
    u = shape * (np.log(ages) - point[:, :1])
    value[:, rows] += point[:, 1:] - np.log(ages) + u
    none = np.zeros_like(u)
    for part, more in zip(parts, (none - shape, 1 + u, none, none - shape, u), strict=True):
        part[:, rows] += more
