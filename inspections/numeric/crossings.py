"""The chance that a segment's line is over the limit, and when that chance reaches a level.

The statement is about the line, not about the next reading (which would add sigma^2). Wear does not heal: where a fall
is not out of the question, the line is conditioned on a rate >= 0, never clipped.
Times are on the wear clock since first fitted; inf: later than the horizon; nan: no answer.
"""

from dataclasses import dataclass

import numpy as np

# Chance of a falling rate from which the condition sets in, and above which a condition on rising has no sense.
CONDITION_FROM = 0.001
FALLING_ABOVE = 0.975
HORIZON_YEARS = 40
# Standard deviations of the rate above 0 from which P(rate < 0) < 1e-9.
SURE_TO_RISE = 6.0
TINY = 1e-150


@dataclass(frozen=True)
class Crossings:
    """Per segment: chance of being over now, early and expected time of crossing, chance of a falling rate."""

    chance_over: np.ndarray
    early: np.ndarray
    expected: np.ndarray
    falling_chance: np.ndarray

    @property
    def falling(self):
        return self.falling_chance > FALLING_ABOVE


def falling_chance(lines):
    """P(rate < 0)."""
    from scipy.special import ndtr

    return ndtr(-lines.rate / np.sqrt(np.maximum(lines.c11, TINY)))


def chance_over(lines, x, limit_db):
    """P(line >= limit at `x`) = Phi((m0 + m1 x - L) / s(x)), without a condition."""
    from scipy.special import ndtr

    return ndtr((lines.at(x) - limit_db) / lines.sd_at(x))


def joint_chance(lines, x, limit_db):
    """P(line >= limit at `x` and rate >= 0): bivariate normal by Owen's T.

    Where a fall is out of the question to 1e-9 the condition on the rate is left out.
    """
    from scipy.special import ndtr

    sd, rate_sd = lines.sd_at(x), np.sqrt(np.maximum(lines.c11, TINY))
    h, k = (lines.at(x) - limit_db) / sd, lines.rate / rate_sd
    chance, rows = np.asarray(ndtr(h)), k < SURE_TO_RISE
    sd, rate_sd = sd[rows], rate_sd[rows]
    rho = (lines.c01 + lines.c11 * x)[rows] / (sd * rate_sd)
    # 1 - rho^2 = |C| / (s^2 C11), which keeps its digits near rho = 1
    slack = np.sqrt(np.maximum(lines.c00 * lines.c11 - lines.c01**2, 0)[rows]) / (sd * rate_sd)
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


def chance_over_rising(lines, x, limit_db):
    """P(line >= limit at `x` | rate >= 0); rises with x."""
    return np.minimum(joint_chance(lines, x, limit_db) / np.maximum(1 - falling_chance(lines), TINY), 1.0)


def crossing_time(lines, limit_db, chance, horizon=np.inf):
    """Smallest x >= 0 at which the unconditioned chance reaches `chance`; inf beyond `horizon` or never."""
    from scipy.special import ndtri

    x = time_at_z(lines, limit_db, ndtri(chance))
    return np.where(x <= horizon, x, np.inf)


def time_at_z(lines, limit_db, z):
    """Smallest x >= 0 with (m0 + m1 x - L) / s(x) >= z, in closed form; inf where there is none.

    Root of (m1^2 - z^2 C11) x^2 + 2 (m1 (m0 - L) - z^2 C01) x + (m0 - L)^2 - z^2 C00 = 0 at which m0 + m1 x - L has the
    sign of z (the algebra of Fieller). At one half the quadratic is a square, and rounding loses its root: x = (L -
    m0)/m1.
    """
    z = np.broadcast_to(z, lines.rate.shape)
    below = lines.intercept - limit_db
    with np.errstate(divide="ignore", invalid="ignore"):
        x = np.where(z == 0, np.where(lines.rate > 0, -below / lines.rate, np.inf), _quadratic_time(lines, below, z))
    return np.where(below >= z * lines.sd_at(0.0), 0.0, x)


def _quadratic_time(lines, below, z):
    """Smallest positive root with the sign of z; inf where there is none."""
    a = lines.rate**2 - z**2 * lines.c11
    half_b = lines.rate * below - z**2 * lines.c01
    c = below**2 - z**2 * lines.c00
    # the two products of q avoid the difference of nearly equal numbers (Press et al., Numerical Recipes, section 5.6)
    q = -(half_b + np.copysign(np.sqrt(half_b**2 - a * c), half_b))
    roots = np.stack([q / a, c / q])
    fits = (roots > 0) & ((below + lines.rate * roots) * z >= 0)
    return np.where(fits, roots, np.inf).min(axis=0)


def time_of_rising_chance(chance_at, level, horizon, count):
    """Times in [0, horizon] at which a chance that rises with x reaches `level`: 0 if it does at the start, inf if
    not by then.

    `chance_at(x, rows)`: the chance of the segments numbered `rows` at `x`; `level`, `horizon`: scalars or arrays
    (count,).
    """
    from scipy.optimize.elementwise import find_root

    rows = np.arange(count)
    level, horizon = (np.broadcast_to(np.asarray(v, float), count) for v in (level, horizon))
    x = np.where(chance_at(np.zeros(count), rows) >= level, 0.0, np.inf)
    open_rows = rows[(x > 0) & (chance_at(horizon, rows) >= level)]
    if open_rows.size:
        bracket = (np.zeros(open_rows.size), horizon[open_rows])
        tolerances = {"xatol": 1e-7, "xrtol": 1e-12, "fatol": 0.0, "frtol": 0.0}
        found = find_root(lambda t, i: chance_at(t, i) - level[i], bracket, args=(open_rows,), tolerances=tolerances)
        x[open_rows] = found.bracket[1]  # the side on which the chance has been reached
    return x


def find_crossings(lines, now, limit_db, risk, horizon):
    """Crossings of lines of a large pool: plain where a fall is out of the question, else conditioned on a rise.

    `now`, `limit_db`, `risk`, `horizon`: scalars or arrays (segments,). Falling segments: nan throughout.
    """
    count = len(lines.rate)
    now, limit_db, risk, horizon = (
        np.broadcast_to(np.asarray(v, float), count) for v in (now, limit_db, risk, horizon)
    )
    falls = falling_chance(lines)
    chance = chance_over(lines, now, limit_db)
    early, expected = crossing_time(lines, limit_db, risk, horizon), crossing_time(lines, limit_db, 0.5, horizon)
    rows = np.flatnonzero((falls >= CONDITION_FROM) & (falls <= FALLING_ABOVE))
    if rows.size:
        some, limits = lines.take(rows), limit_db[rows]
        chance[rows] = chance_over_rising(some, now[rows], limits)

        def chance_at(x, i):
            return chance_over_rising(some.take(i), x, limits[i])

        early[rows] = time_of_rising_chance(chance_at, risk[rows], horizon[rows], rows.size)
        expected[rows] = time_of_rising_chance(chance_at, 0.5, horizon[rows], rows.size)
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
