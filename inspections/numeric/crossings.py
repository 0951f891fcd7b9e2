"""The chance that a segment's own loss is over the limit, and when that chance reaches a level.

The statement is about the loss itself, not about the next reading (which adds a bench day's shift and a reading's
scatter). Steps only go up, so that being over is having crossed; what comes and goes, the settling mu, is met by a
quarter of it: over means x(t) >= L - max(mu, 0) / 4. Wear does not heal: where a fall is not out of the question, the
chance is conditioned on a rate >= 0, never clipped. Times `ahead` count from the last reading, on the wear clock; inf:
later than the horizon; nan: no answer.
"""

from dataclasses import dataclass, replace

import numpy as np

from .reading_blocks import settled

# Chance of a falling rate from which the condition sets in, and above which a condition on rising has no sense.
CONDITION_FROM = 0.001
FALLING_ABOVE = 0.975
HORIZON_YEARS = 40
# Standard deviations of the rate above 0 from which P(rate < 0) < 1e-9.
SURE_TO_RISE = 6.0
TINY = 1e-150
# share of the settling by which the limit is lowered
SETTLING_MET = 0.25
# how often a closed form is corrected for what settles until then, how near it is to come, and where else to look
SETTLING_ROUNDS = 2
ARRIVED = 1e-3
FARTHEST = 1e4


@dataclass(frozen=True)
class Limits:
    """What a loss is compared with: `limit_db` (segments,), lowered by what comes and goes and by what still settles.

    `settling_db`: mu, a number or (points, 1); `f_last` (segments,): the settled share at the last reading; `by_years`:
    the clock counts years. Where it counts events, all that still settles is met at once. `met`: share of the settling
    by which the limit is lowered; 0 for the loss as an instrument shows it today.
    """

    limit_db: np.ndarray
    settling_db: np.ndarray
    f_last: np.ndarray
    by_years: bool
    met: float = SETTLING_MET

    @property
    def lowered(self):
        """The limit for the loss itself, all that has settled in it."""
        return self.limit_db - self.met * np.maximum(self.settling_db, 0.0)

    def at(self, ahead):
        """The limit for `level + rate * ahead`, which leaves out what settles after the last reading."""
        share = settled(ahead) if self.by_years else np.asarray(ahead) > 0
        return self.lowered - self.settling_db * (1 - self.f_last) * share

    def take(self, rows):
        return replace(self, limit_db=self.limit_db[rows], f_last=self.f_last[rows])


def falling_chance(states):
    """P(rate < 0)."""
    from scipy.special import ndtr

    return ndtr(-states.rate / np.sqrt(np.maximum(states.c11, TINY)))


def chance_over(states, ahead, limit_db):
    """P(loss >= limit `ahead`) = Phi((x + b h - L) / s(h)), without a condition."""
    from scipy.special import ndtr

    return ndtr((states.at(ahead) - limit_db) / states.sd_at(ahead))


def joint_chance(states, ahead, limit_db):
    """P(loss >= limit `ahead` and rate >= 0): bivariate normal by Owen's T.

    Where a fall is out of the question to 1e-9 the condition on the rate is left out.
    """
    from scipy.special import ndtr

    sd, rate_sd = states.sd_at(ahead), np.sqrt(np.maximum(states.c11, TINY))
    h, k = (states.at(ahead) - limit_db) / sd, states.rate / rate_sd
    chance, rows = np.array(ndtr(h)), k < SURE_TO_RISE
    sd, rate_sd = sd[rows], rate_sd[rows]
    rho = (states.c01 + states.c11 * ahead)[rows] / (sd * rate_sd)
    # 1 - rho^2 = (|C| + q h C11) / (s^2 C11), which keeps its digits near rho = 1
    det = np.maximum(states.c00 * states.c11 - states.c01**2, 0) + states.q * ahead * states.c11
    slack = np.sqrt(det[rows]) / (sd * rate_sd)
    chance[rows] = bivariate_normal(h[rows], k[rows], rho, slack)
    return chance


def bivariate_normal(h, k, rho, slack):
    """P(X <= h, Y <= k) at correlation `rho`, by Owen's T (Owen 1956, Ann. Math. Stat. 27, 1075-1090).

    `slack` is sqrt(1 - rho^2), which the caller may know better. All arrays of one shape.
    """
    from scipy.special import ndtr, owens_t

    h, k = np.where(np.abs(h) < TINY, TINY, h), np.where(np.abs(k) < TINY, TINY, k)
    with np.errstate(divide="ignore", over="ignore"):
        a_h, a_k = (k - rho * h) / (h * np.maximum(slack, TINY)), (h - rho * k) / (k * np.maximum(slack, TINY))
    opposite = np.where(h * k < 0, 0.5, 0.0)
    return np.clip((ndtr(h) + ndtr(k)) / 2 - owens_t(h, a_h) - owens_t(k, a_k) - opposite, 0.0, 1.0)


def chance_over_rising(states, ahead, limit_db):
    """P(loss >= limit `ahead` | rate >= 0)."""
    return np.minimum(joint_chance(states, ahead, limit_db) / np.maximum(1 - falling_chance(states), TINY), 1.0)


def crossing_time(states, limits, chance, horizon=np.inf):
    """Smallest time ahead at which the unconditioned chance reaches `chance`; inf beyond `horizon` or never.

    The limit moves with what settles: the closed form is corrected for it, and where that does not arrive (much settles
    soon), the root is looked for.
    """
    from scipy.special import ndtri

    z = ndtri(chance)

    def time_with(settled_until):
        known = np.where(np.isfinite(settled_until), settled_until, 0.0)
        return time_at_z(states, limits.at(known), z)

    ahead = time_with(np.zeros(np.shape(states.rate)))
    if np.any(limits.settling_db):
        ahead, arrived = _corrected(time_with, ahead)
        rows = np.flatnonzero(~arrived)
        if rows.size:
            ahead[rows] = _searched(states.take(rows), limits.take(rows), *_of_rows(rows, chance, horizon))
    return np.where(ahead <= horizon, ahead, np.inf)


def _corrected(time_with, first):
    """(h, whether h = time_with(h)), by secants from 0 and `first`."""
    last, last_time, ahead = np.zeros_like(first), first, first
    with np.errstate(divide="ignore", invalid="ignore"):
        for _ in range(SETTLING_ROUNDS):
            time = time_with(ahead)
            gap, last_gap = time - ahead, last_time - last
            better = ahead - gap * (ahead - last) / (gap - last_gap)
            last, last_time, ahead = ahead, time, np.where(np.isfinite(better), np.maximum(better, 0.0), time)
        time = time_with(ahead)
        return time, ~(np.abs(time - ahead) > ARRIVED)


def _of_rows(rows, *values):
    return (value[rows] if np.ndim(value) else value for value in values)


def _searched(states, limits, chance, horizon):
    def chance_at(ahead, i):
        return chance_over(states.take(i), ahead, limits.take(i).at(ahead))

    return time_of_rising_chance(chance_at, chance, np.minimum(horizon, FARTHEST), len(states.rate))


def time_at_z(states, limit_db, z):
    """Smallest h >= 0 with (x + b h - L) / s(h) >= z, in closed form; inf where there is none.

    Root of (b^2 - z^2 Cbb) h^2 + 2 (b (x - L) - z^2 (Cxb + q/2)) h + (x - L)^2 - z^2 Cxx = 0 at which x + b h - L has
    the sign of z (the algebra of Fieller). At one half the quadratic is a square, and rounding loses its root: h = (L -
    x)/b.
    """
    z = np.broadcast_to(z, states.rate.shape)
    below = states.level - limit_db
    with np.errstate(divide="ignore", invalid="ignore"):
        ahead = np.where(z == 0, np.where(states.rate > 0, -below / states.rate, np.inf), _quadratic(states, below, z))
    return np.where(below >= z * states.sd_at(0.0), 0.0, ahead)


def _quadratic(states, below, z):
    """Smallest positive root with the sign of z; inf where there is none."""
    a = states.rate**2 - z**2 * states.c11
    half_b = states.rate * below - z**2 * (states.c01 + states.q / 2)
    c = below**2 - z**2 * states.c00
    # the two products of q avoid the difference of nearly equal numbers (Press et al., Numerical Recipes, section 5.6)
    q = -(half_b + np.copysign(np.sqrt(half_b**2 - a * c), half_b))
    roots = np.stack([q / a, c / q])
    fits = (roots > 0) & ((below + states.rate * roots) * z >= 0)
    return np.where(fits, roots, np.inf).min(axis=0)


def time_of_rising_chance(chance_at, level, horizon, count):
    """Times in [0, horizon] at which a chance that rises reaches `level`: 0 if it does at the start, inf if not by
    then.

    `chance_at(ahead, rows)`: the chance of the segments numbered `rows`; `level`, `horizon`: scalars or arrays
    (count,).
    """
    from scipy.optimize.elementwise import find_root

    rows = np.arange(count)
    level, horizon = (np.broadcast_to(np.asarray(v, float), count) for v in (level, horizon))
    ahead = np.where(chance_at(np.zeros(count), rows) >= level, 0.0, np.inf)
    open_rows = rows[(ahead > 0) & (horizon > 0)]
    open_rows = open_rows[chance_at(horizon[open_rows], open_rows) >= level[open_rows]]
    if open_rows.size:
        bracket = (np.zeros(open_rows.size), horizon[open_rows])
        tolerances = {"xatol": 1e-4, "xrtol": 1e-9, "fatol": 0.0, "frtol": 0.0}
        found = find_root(lambda t, i: chance_at(t, i) - level[i], bracket, args=(open_rows,), tolerances=tolerances)
        ahead[open_rows] = found.bracket[1]  # the side on which the chance has been reached
    return ahead


@dataclass(frozen=True)
class Crossings:
    """Per segment: chance of being over now, early and expected time ahead of crossing, chance of a falling rate."""

    chance_over: np.ndarray
    early: np.ndarray
    expected: np.ndarray
    falling_chance: np.ndarray

    @property
    def falling(self):
        return self.falling_chance > FALLING_ABOVE


def find_crossings(states, limits, now, risk, horizon):
    """Crossings of a large pool: plain where a fall is out of the question, else conditioned on a rise.

    `states` (segments,); `limits`; `now`, `risk`, `horizon` (ahead): arrays (segments,). Falling segments: nan
    throughout.
    """
    falls = falling_chance(states)
    chance = chance_over(states, now, limits.at(now))
    early, expected = (crossing_time(states, limits, level, horizon) for level in (risk, 0.5))
    rows = np.flatnonzero((falls >= CONDITION_FROM) & (falls <= FALLING_ABOVE))
    if rows.size:
        some, their = states.take(rows), limits.take(rows)
        chance[rows] = chance_over_rising(some, now[rows], their.at(now[rows]))

        def chance_at(ahead, i):
            return chance_over_rising(some.take(i), ahead, their.take(i).at(ahead))

        early[rows] = time_of_rising_chance(chance_at, risk[rows], horizon[rows], rows.size)
        expected[rows] = time_of_rising_chance(chance_at, 0.5, horizon[rows], rows.size)
    return _without_falling(chance, early, expected, falls)


def find_mixture_crossings(states, weight, limits, now, risk, horizon):
    """Crossings over weighted points: chance = sum w P(over, b >= 0) / sum w P(b >= 0), dates by root finding on it.

    `states` (points, segments), `weight` (points,).
    """
    count = states.rate.shape[-1]
    falls = weight @ falling_chance(states)
    rises = np.maximum(1 - falls, TINY)

    def chance_at(ahead, i):
        return np.minimum(weight @ joint_chance(states.take(i), ahead, limits.take(i).at(ahead)) / rises[i], 1.0)

    return _without_falling(
        chance_at(now, np.arange(count)),
        time_of_rising_chance(chance_at, risk, horizon, count),
        time_of_rising_chance(chance_at, 0.5, horizon, count),
        falls,
    )


def _without_falling(chance, early, expected, falls):
    for answer in (chance, early, expected):
        answer[falls > FALLING_ABOVE] = np.nan
    return Crossings(chance, early, expected, falls)


def any_over(chances):
    """(least, most) chance that any of several cables is over, from the chance of each; (nan, nan) for none.

    Cables of one mat share events and bench days, and how much is not known: whatever it is, the chance lies
    between the largest of theirs and 1 - prod(1 - p), which holds for independent ones (Fréchet's lower bound; the
    upper one supposes that shared causes do not make cables fail by turns).
    """
    known = np.asarray([chance for chance in chances if chance is not None], float)
    known = known[~np.isnan(known)]
    if not known.size:
        return np.nan, np.nan
    return float(known.max()), float(-np.expm1(np.log1p(-np.minimum(known, 1 - 1e-16)).sum()))
