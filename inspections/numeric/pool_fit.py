"""The pooled loss trend: variance parameters, mean lines, settling and bench-day shifts of a pool by REML (or ML)."""

from dataclasses import dataclass, replace

import numpy as np

from .fit_material import Material, units_a_year
from .fit_search import Part, find_optimum
from .likelihood import Deviance
from .mixed_equations import NoFit, Solution, told_as_no_fit
from .wear_model import SETTLING_PRIOR, FixedColumns

# Below this share of sigma a deviation is nothing, and the fit is said to stand at the boundary.
BOUNDARY = 1e-4
# kappa where it cannot be told from the level: one bench day has read everything
KAPPA_UNKNOWN = 1.0


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

    @property
    def blocks(self):
        """All readings as they were laid out for the fit, in dB."""
        return [replace(block, loss_db=block.loss_db + self.centre_db) for block in self.deviance.blocks]


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


def _find(material, wander, start, centre_db):
    """Optimum of the material."""
    days, day_readings = material.shared_days()
    estimated = np.array([True, True, True, wander, len(days) > 1])
    whole = Part(material.deviance(days), estimated, KAPPA_UNKNOWN if len(days) == 1 else 0.0)
    theta, decrement = find_optimum(whole, material, start)
    return _result(whole.deviance, theta, decrement, material, days, day_readings, centre_db)


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


def _sound(fit):
    numbers = (fit.values, fit.covariance, fit.theta, fit.sigma2, fit.minus_two_log)
    variances = np.append(fit.covariance.diagonal(), fit.sigma2)
    if not all(np.isfinite(part).all() for part in numbers) or (variances < 0).any():
        raise NoFit("The fit is not made of finite numbers.")
    return fit
