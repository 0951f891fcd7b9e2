"""The pooled loss trend: variance parameters, mean lines, settling and bench-day shifts of a pool by REML (or ML).

Start from a sub-pool, then quasi-Newton on all of it with the sub-pool's Hessian. The deviance is even in l22, rho and
kappa, so that a boundary (a deviation of nothing, which is legal) needs no fence.
"""

from dataclasses import dataclass, replace

import numpy as np

from .fit_readings import FitReadings
from .likelihood import Deviance
from .minimise import CONVERGED, hessian, newton_at_once, quasi_newton
from .mixed_equations import NoFit, Solution, told_as_no_fit
from .reading_blocks import lay_out, shared_days
from .reference_pieces import PieceReadings
from .wear_model import SETTLING_PRIOR, FixedColumns

SUB_POOL_SEGMENTS = 4000
# in the sub-pool only the fullest days have a shift of their own: the others carry its variance on each reading
SUB_POOL_DAYS = 300
# with more bench days than these the sub-pool's optimum is taken, and the pool is solved there once
DAYS_TO_SOLVE_ONCE = 1200
# Newton decrement at which the last step on all of a pool is made: a hundredth of a standard error
ENOUGH_OF_ALL = 1e-4
STEPS_ON_ALL = 12
START = (1.0, 0.0, 0.5, 0.3, 0.5)
# a bench that reads far apart from day to day, which may look like wear
SHIFTING = (1.0, 0.0, 0.5, 0.3, 5.0)
MORE_STARTS = (SHIFTING, (3.0, 0.5, 1.0, 1.0, 1.0), (0.2, 0.0, 0.2, 0.1, 2.0))
# Where a deviation is nothing, the last hundredths of a deviance take longer than all before: below so many segments,
# whose parameters are integrated over, a fit arrives at this decrement.
FEW_SEGMENTS = 150
NEARLY_CONVERGED = 1e-2
# a deviation this large beside sigma says that there is no sigma
THETA_MAX = 1e5
# a former fit at the boundary is started from so far inside
OFF_THE_BOUNDARY = 0.02
# Below this share of sigma a deviation is nothing, and the fit is said to stand at the boundary.
BOUNDARY = 1e-4
# kappa where it cannot be told from the level: one bench day has read everything
KAPPA_UNKNOWN = 1.0
# Own lines this close to the readings, beside their spread, are no noise at all: invented or copied readings.
NO_NOISE = 1e-7


@dataclass(frozen=True)
class PoolFit:
    """A fitted pool. `theta`: (l11, l21, l22, rho, kappa) for the clock divided by `scale`; `values` and `covariance`
    (dB, dB^2) of the fixed columns, and mu / 1.5 where it is in the fit; `minus_two_log`: -2 log REML (ML when
    `restricted` is false) for the clock in its own unit. `newton_decrement`: about twice what the log likelihood still
    lacks at the optimum.
    """

    scale: float
    with_length: bool
    settling: bool
    segments: int
    readings: int
    bench_days: int
    theta: np.ndarray
    values: np.ndarray
    covariance: np.ndarray
    sigma2: float
    sigma_from_instrument: bool
    minus_two_log: float
    restricted: bool
    newton_decrement: float

    @property
    def columns(self):
        return FixedColumns(self.with_length, self.settling)

    @property
    def at_boundary(self):
        return bool(min(abs(self.theta[0]), abs(self.theta[2])) < BOUNDARY)

    @property
    def _units(self):
        return np.where(np.array(self.columns.basis) == 1, 1 / self.scale, 1.0)

    @property
    def coefficients(self):
        """Level (and its length term), rate (and its length term): dB, dB per metre, per unit of the clock."""
        return (self.values * self._units)[: self.columns.free]

    @property
    def standard_errors(self):
        """Of the coefficients."""
        return (np.sqrt(self.covariance.diagonal()) * self._units)[: self.columns.free]

    @property
    def intercept_db(self):
        """[a0, a1]: dB, dB per metre; a1 = 0 without length terms."""
        return np.resize([*self.coefficients[: self.columns.free // 2], 0.0], 2)

    @property
    def rate_db(self):
        """[b0, b1] per unit of the clock, b1 per metre too; b1 = 0 without length terms."""
        return np.resize([*self.coefficients[self.columns.free // 2 :], 0.0], 2)

    @property
    def deviations(self):
        """(sd of levels, sd of rates per unit of the clock, correlation; 0 where one of them is nothing)."""
        l11, l21, l22 = self.theta[:3]
        sd_level, sd_rate = abs(l11), float(np.hypot(l21, l22))
        correlation = float(np.clip(np.sign(l11) * l21 / sd_rate, -1, 1)) if sd_level and sd_rate else 0.0
        return float(sd_level * self.residual_sd), sd_rate * self.residual_sd / self.scale, correlation

    @property
    def residual_sd(self):
        return float(np.sqrt(self.sigma2))

    @property
    def bench_day_sd_db(self):
        """tau."""
        return float(abs(self.theta[4]) * self.residual_sd)

    @property
    def wander_db(self):
        """sqrt(q): standard deviation of the wander over one unit of the clock."""
        return float(abs(self.theta[3]) * self.residual_sd / np.sqrt(self.scale))

    @property
    def settling_db(self):
        """mu."""
        return float(SETTLING_PRIOR * self.values[-1]) if self.settling else 0.0

    @property
    def settling_sd_db(self):
        return float(SETTLING_PRIOR * np.sqrt(self.covariance[-1, -1])) if self.settling else 0.0


@dataclass(frozen=True)
class Optimum:
    """A PoolFit with what it was found with: the Deviance, its Solution, keys of the bench days with a shift, how many
    readings each has, and the loss (dB) that was taken off all readings before."""

    fit: PoolFit
    deviance: Deviance
    solution: Solution
    days: np.ndarray
    day_readings: np.ndarray
    centre_db: float


def fit_pool(
    readings,
    length_m,
    *,
    with_length=False,
    settling=True,
    wander=True,
    sigma=None,
    restricted=True,
    start=None,
    pieces=None,
):
    """Optimum of FitReadings of segments with `length_m` (shape (segments,)).

    `sigma`: residual sd in dB when it is known from the instrument, None to estimate it; `start`: theta of a former
    fit; `pieces`: PieceReadings, or None. Raises NoFit.
    """
    centre_db, columns = float(np.mean(readings.loss_db)), FixedColumns(with_length, settling)
    centred = replace(readings, loss_db=readings.loss_db - centre_db)
    sigma2 = None if sigma is None else sigma**2
    material = Material(centred, length_m, units_a_year(readings), columns, sigma2, restricted, pieces)
    with told_as_no_fit():
        return _find(material, wander, start, centre_db)


@dataclass(frozen=True)
class Material:
    """What goes into one fit: readings about their mean, and how they are fitted."""

    readings: FitReadings
    length_m: np.ndarray
    scale: float
    columns: FixedColumns
    sigma2: float | None
    restricted: bool
    pieces: PieceReadings | None

    def shared_days(self):
        """(keys, readings) of the bench days with two readings or more, a cable's among them."""
        mine = self.readings.day
        if self.pieces is None:
            return shared_days(mine)
        return shared_days(np.concatenate([mine, self.pieces.of_days(np.unique(mine)).day]))

    def deviance(self, keys):
        """Deviance with a shift for each of the bench days `keys`."""
        blocks = tuple(lay_out(self.readings, self.length_m, keys, self.scale))
        some = self.pieces and self.pieces.of_days(keys)
        pieces = some.sums(keys, self.columns) if some and len(some.day) else None
        return Deviance(blocks, self.columns, len(keys), self.sigma2, self.restricted, pieces)

    def of_segments(self, rows):
        wanted = np.zeros(len(self.length_m), bool)
        wanted[rows] = True
        return replace(self, readings=self.readings.of_segments(wanted))


def _find(material, wander, start, centre_db):
    """Optimum of the material."""
    days, day_readings = material.shared_days()
    estimated = np.array([True, True, True, wander, len(days) > 1])
    whole = Part(material.deviance(days), estimated, KAPPA_UNKNOWN if len(days) == 1 else 0.0)
    theta, decrement = _optimum(whole, material, start)
    return _result(whole.deviance, theta, decrement, material, days, day_readings, centre_db)


def units_a_year(readings):
    """Units of the clock in a year: 1 where it counts years."""
    years, units = readings.years.sum(), readings.x.sum()
    return float(units / years) if years > 0 and units > 0 else 1.0


@dataclass(frozen=True)
class Part:
    """A Deviance as a function of the estimated ones among theta; `kappa` where that is not."""

    deviance: Deviance
    estimated: np.ndarray
    kappa: float

    def full(self, x):
        theta = np.array([0.0, 0.0, 0.0, 0.0, self.kappa])
        theta[self.estimated] = x
        return theta

    def values(self, x):
        """Of many x (points, estimated ones) at once."""
        theta = np.full((len(x), 5), self.full(x[0]))
        theta[:, self.estimated] = x
        return self.deviance.values(theta)

    def __call__(self, x):
        if np.abs(x).max() > THETA_MAX:
            return np.inf, np.zeros(len(x))
        value, gradient = self.deviance(self.full(x))
        return value, gradient[self.estimated]


def _optimum(whole, material, start):
    """(theta, Newton decrement)."""
    seen = np.flatnonzero(np.bincount(material.readings.segment))
    step = max(1, len(seen) // SUB_POOL_SEGMENTS)
    part = whole if step == 1 else _sub_pool(whole, material.of_segments(seen[::step]))
    step_on_all = step > 1 and whole.deviance.days <= DAYS_TO_SOLVE_ONCE
    if step_on_all and start is not None:
        x, decrement = _steps_on_all(whole, part, _off_the_boundary(start)[part.estimated], step)
        if decrement < ENOUGH_OF_ALL:
            return whole.full(x), decrement
        start = None
    x, decrement = _from_starts(part, start, several=step == 1, few=len(seen) < FEW_SEGMENTS)
    if step_on_all:
        x, decrement = _steps_on_all(whole, part, x, step)
    return whole.full(x), decrement


def _off_the_boundary(theta):
    """At the boundary the gradient is nought whether it is the optimum or not."""
    return np.array([*theta[:2], *np.maximum(theta[2:], OFF_THE_BOUNDARY)])


def _steps_on_all(whole, part, x, step):
    return quasi_newton(whole, x, _hessian_of_all(whole, part, x, step), STEPS_ON_ALL, ENOUGH_OF_ALL)


def _hessian_of_all(whole, part, x, step):
    """That of the sub-pool, scaled: segments tell of all but kappa, bench days of kappa."""
    times = np.full(5, float(step))
    times[4] = whole.deviance.days / max(part.deviance.days, 1)
    root = np.sqrt(times[part.estimated])
    return hessian(part, x) * np.outer(root, root)


def _sub_pool(whole, material):
    keys, count = material.shared_days()
    fullest = np.sort(keys[np.argsort(-count, kind="stable")[:SUB_POOL_DAYS]])
    return replace(whole, deviance=material.deviance(fullest))


def _from_starts(part, start, several, few):
    """The best of `several` starts, or of as many as it takes until one arrives."""
    former, found = [] if start is None else [_off_the_boundary(start)], []
    arrived = NEARLY_CONVERGED if few else CONVERGED
    for theta in [*former, START, *MORE_STARTS]:
        x, decrement = _from_start(part, np.array(theta)[part.estimated], few)
        found.append((part(x)[0], x, decrement))
        if decrement < arrived and len(found) >= (len(former) + 2 if several else 1):
            break
    value, x, decrement = min(found, key=lambda each: each[0])
    if not np.isfinite(value):
        raise NoFit("The likelihood is not finite.")
    return x, decrement


def _from_start(part, x, few):
    """(x, Newton decrement); of `few` segments many points cost little more than one."""
    if few and part.deviance.pieces is None:
        return quasi_newton(part, *newton_at_once(part.values, x))
    return quasi_newton(part, x, hessian(part, x))


def _result(deviance, theta, decrement, material, days, day_readings, centre_db):
    sign = np.sign(theta[0]) or 1.0
    theta = np.array([abs(theta[0]), sign * theta[1], *np.abs(theta[2:])])
    found = deviance.at(theta)
    solution, sigma2, fixed = found.solution, found.sigma2, len(deviance.columns)
    values = solution.values[0, :fixed].copy()
    values[0] += centre_db
    unit_of_x = deviance.columns.free * np.log(material.scale) if deviance.restricted else 0.0
    fit = PoolFit(
        scale=material.scale,
        with_length=deviance.columns.with_length,
        settling=deviance.columns.settling,
        segments=sum(len(block.rows) for block in deviance.blocks if block.readings_each),
        readings=deviance.readings,
        bench_days=len(np.unique(material.readings.day[material.readings.day >= 0])),
        theta=theta,
        values=values,
        covariance=sigma2 * solution.inverse[0, :fixed, :fixed],
        sigma2=float(sigma2),
        sigma_from_instrument=deviance.sigma2 is not None,
        minus_two_log=float(found.value + unit_of_x),
        restricted=deviance.restricted,
        newton_decrement=float(decrement),
    )
    return Optimum(_sound(fit), deviance, solution, days, day_readings, centre_db)


def own_lines_have_no_noise(readings):
    """True where the readings of every segment lie on a line of its own, three or more at least once."""
    rows = np.flatnonzero(np.bincount(readings.segment)[readings.segment] > 2)
    if not rows.size:
        return False
    segment, x, y = readings.segment[rows], readings.x[rows], readings.loss_db[rows]
    count = np.maximum(np.bincount(segment), 1)
    dx, dy = (values - (np.bincount(segment, values) / count)[segment] for values in (x, y))
    sxx, sxy = np.bincount(segment, dx * dx), np.bincount(segment, dx * dy)
    residual = dy - np.divide(sxy, sxx, out=np.zeros_like(sxx), where=sxx > 0)[segment] * dx
    return bool(np.sqrt(np.mean(residual**2)) <= NO_NOISE * np.std(y))


def _sound(fit):
    numbers = (fit.values, fit.covariance, fit.theta, fit.sigma2, fit.minus_two_log)
    variances = np.append(fit.covariance.diagonal(), fit.sigma2)
    if not all(np.isfinite(part).all() for part in numbers) or (variances < 0).any():
        raise NoFit("The fit is not made of finite numbers.")
    return fit
