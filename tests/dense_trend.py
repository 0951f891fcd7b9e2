"""The model of the pooled trend as one whole covariance matrix, written to be read, not to be quick.

y = (a0 + a1 len + u) + (b0 + b1 len + v) t + mu f + w(t) + s_day + e, f = 1 - exp(-years / 0.7), with (u, v) ~ N(0, D)
and w a Wiener process of each segment, s ~ N(0, tau^2) of each bench day, mu ~ N(0, (1.5 sigma)^2), e ~ N(0, sigma^2).
Every answer is best linear unbiased prediction from that matrix (Robinson 1991, Statistical Science 6(1), 15-32;
Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, section 2.7), so nothing here shares an algebra
with the app, which works segment by segment.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from scipy.optimize import brentq
from scipy.stats import multivariate_normal, norm

SETTLING_YEARS = 0.7
SETTLING_PRIOR_IN_SIGMA = 1.5
CONDITION_FROM, FALLING_ABOVE = 0.001, 0.975


def settled_share(years):
    return 1 - np.exp(-np.asarray(years, float) / SETTLING_YEARS)


class Parameters(NamedTuple):
    """In dB and units of the clock: covariance D of (level, rate), scatter, shift of bench days, q of the wander."""

    d: np.ndarray
    sigma2: float
    tau2: float = 0.0
    q: float = 0.0
    settling_sd: float = 0.0

    @classmethod
    def of(cls, sd_level, sd_rate, correlation, sigma, tau=0.0, wander=0.0, settling=True):
        both = correlation * sd_level * sd_rate
        d = np.array([[sd_level**2, both], [both, sd_rate**2]])
        return cls(d, sigma**2, tau**2, wander**2, SETTLING_PRIOR_IN_SIGMA * sigma * settling)

    @classmethod
    def of_fit(cls, fit, *, settling=True):
        """Those at which a PoolFit stands."""
        return cls.of(*fit.deviations, fit.residual_sd, fit.bench_day_sd_db, fit.wander_db, settling)


class Answer(NamedTuple):
    """Joint mean and covariance of what was asked."""

    mean: np.ndarray
    covariance: np.ndarray

    @property
    def sd(self):
        return np.sqrt(np.maximum(np.diag(self.covariance), 0.0))


class Target(NamedTuple):
    """What is asked: its fixed part, its covariance with each reading, and what it is made of."""

    fixed: np.ndarray
    with_readings: np.ndarray
    segment: int
    level: float
    rate: float
    wander_to: float
    settled: float


@dataclass(frozen=True)
class DenseTrend:
    """Readings (arrays of one length) of segments with `length_m`; `day`: -1 for a reading alone on its day.

    `fixed_terms`: 4 with length terms, 2 without, 0 where the mean line is known and taken off `y`.
    """

    segment: np.ndarray
    x: np.ndarray
    y: np.ndarray
    length_m: np.ndarray
    parameters: Parameters
    day: np.ndarray | None = None
    years: np.ndarray | None = None
    fixed_terms: int = 4

    @cached_property
    def own_day(self):
        """Days with a number for each reading that is alone on its own."""
        count = len(self.x)
        day = np.full(count, -1) if self.day is None else np.asarray(self.day)
        return np.where(day < 0, -1 - np.arange(count), day)

    @cached_property
    def settled(self):
        return settled_share(self.x if self.years is None else self.years)

    def fixed_row(self, segment, level, rate):
        length = self.length_m[segment]
        rows = {0: [], 2: [level, rate], 4: [level, level * length, rate, rate * length]}
        return np.array(rows[self.fixed_terms], float)

    @cached_property
    def design(self):
        return np.array([self.fixed_row(i, 1.0, t) for i, t in zip(self.segment, self.x, strict=True)])

    @cached_property
    def covariance(self):
        p, same = self.parameters, self.segment[:, None] == self.segment
        z = np.column_stack([np.ones(len(self.x)), self.x])
        own = same * (z @ p.d @ z.T + p.q * np.minimum.outer(self.x, self.x))
        shared = p.tau2 * (self.own_day[:, None] == self.own_day)
        return own + shared + p.settling_sd**2 * np.outer(self.settled, self.settled) + p.sigma2 * np.eye(len(z))

    @cached_property
    def inverse(self):
        return np.linalg.inv(self.covariance)

    @cached_property
    def beta_covariance(self):
        return np.linalg.inv(self.design.T @ self.inverse @ self.design)

    @cached_property
    def beta(self):
        return self.beta_covariance @ self.design.T @ self.inverse @ self.y

    @cached_property
    def residual(self):
        return self.y - self.design @ self.beta

    def minus_two_log(self, *, restricted=True):
        squares = self.residual @ self.inverse @ self.residual
        degrees = len(self.y) - restricted * self.design.shape[1]
        value = np.linalg.slogdet(self.covariance)[1] + squares + degrees * np.log(2 * np.pi)
        return value - restricted * np.linalg.slogdet(self.beta_covariance)[1]

    @cached_property
    def projection(self):
        gain = self.inverse @ self.design
        return self.inverse - gain @ self.beta_covariance @ gain.T

    @cached_property
    def departures(self):
        """Each reading's residual about all the others, in its standard deviations."""
        return self.projection @ self.y / np.sqrt(np.diag(self.projection))

    def loss(self, segment, x, years=None):
        """The loss of the cable itself at `x`."""
        settled = float(settled_share(x if years is None else years))
        return self._target(segment, 1.0, x, x, settled)

    def rate(self, segment):
        return self._target(segment, 0.0, 1.0, 0.0, 0.0)

    def _target(self, segment, level, rate, wander_to, settled):
        p, same = self.parameters, self.segment == segment
        z = np.column_stack([np.ones(len(self.x)), self.x])
        own = same * (z @ p.d @ [level, rate] + p.q * np.minimum(self.x, wander_to))
        with_readings = own + p.settling_sd**2 * settled * self.settled
        return Target(self.fixed_row(segment, level, rate), with_readings, segment, level, rate, wander_to, settled)

    def _prior(self, one, other):
        p, same = self.parameters, one.segment == other.segment
        own = np.array([one.level, one.rate]) @ p.d @ [other.level, other.rate]
        own += p.q * min(one.wander_to, other.wander_to)
        return same * own + p.settling_sd**2 * one.settled * other.settled

    def ask(self, *targets):
        """Answer of targets made by `loss` and `rate`."""
        fixed = np.array([target.fixed for target in targets])
        gain = np.array([target.with_readings for target in targets]) @ self.inverse
        left = fixed - gain @ self.design
        prior = np.array([[self._prior(one, other) for other in targets] for one in targets])
        seen = gain @ np.array([target.with_readings for target in targets]).T
        return Answer(fixed @ self.beta + gain @ self.residual, prior - seen + left @ self.beta_covariance @ left.T)

    def days(self, keys):
        """Answer of the shifts of bench days."""
        shared = self.parameters.tau2 * (np.asarray(keys)[:, None] == self.own_day)
        covariance = self.parameters.tau2 * np.eye(len(keys)) - shared @ self.projection @ shared.T
        return Answer(shared @ self.inverse @ self.residual, covariance)

    def settling(self):
        """Answer of mu."""
        shared = self.parameters.settling_sd**2 * self.settled
        variance = self.parameters.settling_sd**2 - shared @ self.projection @ shared
        return Answer(np.array([shared @ self.inverse @ self.residual]), np.array([[variance]]))

    def last_x(self, segment):
        """Time of a segment's last reading; 0 without one."""
        return float(self.x[self.segment == segment].max(initial=0.0))

    def _loss_and_rate(self, segment, x):
        return self.ask(self.loss(segment, x), self.rate(segment))

    def forecast(self, segment, x):
        """Answer of loss and rate after the last reading T, the clock in years: x + b h + mu (f - f_T), its variance
        cxx + 2 cxb h + cbb h^2 + q h. How little is known of mu is left out of what still settles.
        """
        last = self.last_x(segment)
        h, settles = x - last, settled_share(x) - settled_share(last)
        (m, b), c = self._loss_and_rate(segment, last)
        ahead = np.array([[1.0, h], [0.0, 1.0]])
        mu = self.settling().mean[0] if self.parameters.settling_sd else 0.0
        covariance = ahead @ c @ ahead.T + np.diag([self.parameters.q * h, 0.0])
        return Answer(np.array([m + b * h + mu * settles, b]), covariance)

    def chance_over(self, segment, x, limit_db):
        """P(loss >= limit, less a quarter of what has settled | the rate does not fall); nan where it surely falls."""
        lowered = limit_db - max(self.settling().mean[0], 0.0) / 4 if self.parameters.settling_sd else limit_db
        (m, b), c = self.forecast(segment, x) if x > self.last_x(segment) else self._loss_and_rate(segment, x)
        over, falls = norm.sf((lowered - m) / np.sqrt(c[0, 0])), norm.cdf(-b / np.sqrt(c[1, 1]))
        if falls < CONDITION_FROM:
            return over
        return joint_chance(m - lowered, b, c) / (1 - falls) if falls <= FALLING_ABOVE else np.nan

    def time_of(self, chance, segment, limit_db, horizon=40.0):
        """Smallest time from the last reading on at which the chance is reached; inf beyond the horizon."""

        def short(x):
            return self.chance_over(segment, x, limit_db) - chance

        low = self.last_x(segment)
        if short(low) >= 0:
            return low
        return brentq(short, low, horizon, xtol=1e-9) if short(horizon) >= 0 else np.inf


def joint_chance(m, b, c):
    """P(X >= 0 and B >= 0) of two normals with means `m`, `b` and covariance `c`."""
    return multivariate_normal.cdf([m, b], cov=c, allow_singular=True, abseps=1e-10, releps=1e-10)
