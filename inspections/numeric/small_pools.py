"""Small pools: below 150 segments the variance parameters are uncertain too, and plug-in intervals too short.

Importance sampling over (ln sd of level, ln sd of rate, correlation, ln sqrt q, ln tau, ln sigma) with priors that have
a physical reason: u is the policy's uncertainty of a reading. The posterior's mode by Newton's method, Sobol points of
a Student t of 5 degrees about it, once more about their mean and covariance, then resampled (Gelman et al. 2013,
Bayesian Data Analysis, sections 10.4 and 13.3; from memory). Seeds are fixed: the same readings give the same answer.
"""

from dataclasses import dataclass

import numpy as np

from .minimise import newton_at_once, positive_inverse
from .mixed_equations import NoFit
from .pool_points import PoolPoints
from .wear_model import Variances

INTEGRATE_BELOW_SEGMENTS = 150
# from so many segments on fewer points do
FEWER_POINTS_FROM_SEGMENTS = 50
POINTS, FEWER_POINTS = 512, 256
KEPT, FEWER_KEPT = 160, 96
LEAST_EFFECTIVE = 60
DEGREES = 5
SEED = 20260930
SD_LEVEL_DB, SD_RATE_DB_A_YEAR, WANDER_DB = 1.0, 0.5, 0.05


@dataclass(frozen=True)
class Posterior:
    """Log posterior density of phi = (ln sd level, ln sd rate, artanh correlation, ln sqrt q, ln tau, ln sigma).

    Rates and q in years. `sigma`: residual sd (dB) where it is known from the instrument: then phi ends before it.
    """

    deviance: object
    uncertainty_db: float
    sigma: float | None

    @property
    def start(self):
        u = self.uncertainty_db
        phi = np.log([0.1, 0.1, np.e**0.0, WANDER_DB, u / 2, u / 2])
        return phi if self.sigma is None else phi[:-1]

    def parameters(self, phi):
        """(sd level, sd rate, correlation, sqrt q, tau, sigma), each (points,)."""
        sds = np.exp(np.clip(phi, -30, 10)).T
        sigma = sds[5] if self.sigma is None else np.full(len(phi), self.sigma)
        return sds[0], sds[1], np.tanh(phi[:, 2]), sds[3], sds[4], sigma

    def variances(self, phi):
        """(Variances in units of sigma^2, sigma^2)."""
        sd_level, sd_rate, correlation, wander, tau, sigma = self.parameters(phi)
        sigma2 = sigma**2
        parts = (sd_level**2, correlation * sd_level * sd_rate, sd_rate**2, wander**2, tau**2)
        return Variances(*(part / sigma2 for part in parts)), sigma2

    def __call__(self, phi):
        """(points,)."""
        variances, sigma2 = self.variances(phi)
        with np.errstate(all="ignore"):
            solution, log_det = self.deviance.solutions(variances, sigma2)
            misfit = solution.residual_squares / sigma2 + self.deviance.degrees * np.log(sigma2)
            value = self._log_prior(phi) - (log_det + solution.log_det + misfit) / 2
        return np.where(np.isfinite(value), value, -np.inf)

    def _log_prior(self, phi):
        """With the Jacobian of the coordinates. Half-normal, half-normal, uniform, exponential, half-normal,
        log-normal."""
        sd_level, sd_rate, correlation, wander, tau, sigma = self.parameters(phi)
        u = self.uncertainty_db
        value = -(sd_level**2) / (2 * SD_LEVEL_DB**2) - sd_rate**2 / (2 * SD_RATE_DB_A_YEAR**2)
        value += np.log1p(-(correlation**2)) - wander / WANDER_DB - tau**2 / (2 * u**2)
        value += phi[:, 0] + phi[:, 1] + phi[:, 3] + phi[:, 4]
        if self.sigma is None:
            value -= (np.log(sigma) - np.log(u / 2)) ** 2 / (2 * np.log(2) ** 2)
        return value


def integrate_parameters(optimum, sigma, uncertainty_db):
    """PoolPoints of a small pool: `optimum` of its fit, `sigma` (dB) from the instrument or None. Raises NoFit."""
    few = optimum.fit.segments < FEWER_POINTS_FROM_SEGMENTS
    posterior = Posterior(optimum.deviance, uncertainty_db, sigma)
    mode, covariance = find_mode(posterior)
    phi, weight = sample(posterior, mode, covariance, POINTS if few else FEWER_POINTS)
    chosen, count = resample(weight, KEPT if few else FEWER_KEPT)
    variances, sigma2 = posterior.variances(phi[chosen])
    solution, _ = optimum.deviance.solutions(variances, sigma2)
    return PoolPoints.of(optimum, variances, sigma2, solution, count / count.sum())


def find_mode(posterior):
    """(mode, covariance) of the density. Raises NoFit."""
    mode, hessian = newton_at_once(lambda phi: -posterior(phi), posterior.start)
    return mode, positive_inverse(hessian)


def sample(posterior, centre, covariance, points):
    """(phi (points, k), weight of sum 1): about the mode, then about the sample's own mean and covariance, and once
    more where the weights are still too unequal."""
    for round_number in range(3):
        phi, log_density = student_points(centre, covariance, points, SEED + round_number)
        log_weight = posterior(phi) - log_density
        weight = np.exp(log_weight - log_weight.max())
        weight /= weight.sum()
        if not np.isfinite(weight).all():
            raise NoFit("The likelihood is not finite.")
        if round_number and 1 / (weight**2).sum() >= LEAST_EFFECTIVE:
            break
        centre, covariance = _moments(phi, weight, covariance)
    return phi, weight


def student_points(centre, covariance, points, seed):
    """(phi, log density up to a constant): Sobol points of a Student t of 5 degrees."""
    from scipy.special import chdtri, ndtri
    from scipy.stats import qmc

    k = len(centre)
    cube = np.clip(qmc.Sobol(k + 1, scramble=True, rng=seed).random(points), 1e-9, 1 - 1e-9)
    stretch = np.sqrt(DEGREES / chdtri(DEGREES, cube[:, k]))
    z = ndtri(cube[:, :k]) * stretch[:, None]
    log_density = -(DEGREES + k) / 2 * np.log1p((z**2).sum(axis=1) / DEGREES)
    return centre + z @ np.linalg.cholesky(covariance).T, log_density


def _moments(phi, weight, covariance):
    """Mean and covariance of weighted points; a tenth of the former covariance keeps it from collapsing."""
    mean = weight @ phi
    about = phi - mean
    return mean, (about * weight[:, None]).T @ about + 0.1 * covariance


def resample(weight, kept):
    """(rows, how often each): systematic resampling, so that rows of weight w stand about w * kept times."""
    at = (np.arange(kept) + 0.5) / kept
    return np.unique(np.searchsorted(np.cumsum(weight), at).clip(0, len(weight) - 1), return_counts=True)
