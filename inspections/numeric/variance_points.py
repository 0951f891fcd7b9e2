"""Points over the variance parameters of a pool that is answered at its optimum.

A cable's own date hangs mostly on its own readings, and in a pool of 150 segments and more it is right to take how much
cables differ as known. A limit of all cables of a length hangs on nothing else: however large the pool, the deviations
are known about as badly as the mean lines are, and a limit whose interval took them as known would be too sure of
itself: of 100 drawn pools of 400 cables it held the truth in 73, with these points in 87 (1,000 cables: 78 and 87).
"""

from dataclasses import replace

import numpy as np

from .fit_material import Material, units_a_year
from .minimise import newton_at_once, positive_inverse
from .mixed_equations import NoFit, told_as_no_fit
from .pool_fit import Optimum
from .pool_points import PoolPoints
from .small_pools import SEED, Posterior, integrate_parameters, resample, student_points

# one round does where the posterior is nearly normal, and each point of many readings takes its time
POINTS, KEPT, LEAST_ALIKE = 128, 64, 40
# dB, and dB a year: where a deviation is nothing the search starts from so much
LEAST_START = 0.01


def with_variance_points(model, readings, length_m, *, instrument_sd_db, pieces=None):
    """The PoolModel with points over its variance parameters; as it is where it has them, or where there is no fit.

    `readings`: the FitReadings that it was fitted to, those that departed left out; `length_m`, `pieces`: as they were
    then. Where the integration fails it stays as it is, too, and `integrated` says so.
    """
    if model.points is None or model.integrated:
        return model
    fit = model.fit
    sigma = fit.residual_sd if fit.sigma_from_instrument else None
    try:
        with told_as_no_fit():
            optimum = _optimum(fit, readings, np.asarray(length_m, float), sigma, pieces)
            return replace(model, points=_integrated(optimum, sigma, instrument_sd_db))
    except NoFit:
        return model


def _optimum(fit, readings, length_m, sigma, pieces):
    """The Optimum of that PoolFit, without a search for it."""
    centre_db, sigma2 = float(np.mean(readings.loss_db)), None if sigma is None else sigma**2
    centred = replace(readings, loss_db=readings.loss_db - centre_db)
    material = Material(centred, length_m, units_a_year(readings), fit.columns, sigma2, fit.restricted, pieces)
    days, day_readings = material.shared_days()
    deviance = material.deviance(days)
    return Optimum(fit, deviance, deviance.at(fit.theta).solution, days, day_readings, centre_db)


def _integrated(optimum, sigma, uncertainty_db):
    """PoolPoints as `integrate_parameters` has them, from one round of fewer points where these weigh alike enough."""
    posterior = Posterior(optimum.deviance, uncertainty_db, sigma)
    mode, hessian = newton_at_once(lambda phi: -posterior(phi), _start(optimum.fit, sigma))
    phi, log_density = student_points(mode, positive_inverse(hessian), POINTS, SEED)
    log_weight = posterior(phi) - log_density
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    if not 1 / (weight**2).sum() >= LEAST_ALIKE:
        return integrate_parameters(optimum, sigma, uncertainty_db)
    chosen, count = resample(weight, KEPT)
    variances, sigma2 = posterior.variances(phi[chosen])
    solution, _ = optimum.deviance.solutions(variances, sigma2)
    return PoolPoints.of(optimum, variances, sigma2, solution, count / count.sum())


def _start(fit, sigma):
    """The optimum in the coordinates of Posterior."""
    l11, l21, l22, rho, kappa = np.abs(fit.theta) * fit.residual_sd
    sds = np.maximum([l11, np.hypot(l21, l22), 1.0, rho, kappa, fit.residual_sd], LEAST_START)
    phi = np.log(sds)
    phi[2] = np.arctanh(np.clip(fit.deviations[2], -0.9, 0.9))
    return phi if sigma is None else phi[:-1]
