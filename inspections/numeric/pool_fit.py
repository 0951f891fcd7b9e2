"""The pooled loss trend: variance parameters and mean lines of the whole pool by REML (or ML).

Start from a sub-pool, then quasi-Newton on all of it with the sub-pool's Hessian; at the boundary (a correlation of one
or a standard deviation of nothing, both legal) bounded L-BFGS-B from several starts. EM needs hundreds of passes.
"""

from dataclasses import dataclass

import numpy as np

from .mixed_model import Deviance, FixedPart, NoFit, RelativeCovariance, solve_fixed, weigh
from .segment_sums import Frame, choose_frame, sum_by_segment

SUB_POOL_SEGMENTS = 4000
FEW_SEGMENTS = 50
STARTS = ((1.0, 0.0, 0.5), (0.2, 0.0, 0.2), (3.0, 1.0, 1.0), (2.0, -1.5, 0.1), (0.5, 0.5, 3.0), (3.0, 0.0, 0.0))
THETA_MAX = 1e5
# Newton decrement up to which a fit counts as converged: a millionth of a standard error.
CONVERGED = 1e-10
# Below this share of sigma a deviation is nothing, and the fit is said to stand at the boundary.
BOUNDARY = 1e-4
# A residual sd this small beside the spread of the readings is no noise at all: invented or copied readings.
NO_NOISE = 1e-7


@dataclass(frozen=True)
class PoolFit:
    """A fitted pool, in its frame. Properties give dB and dB per unit of the wear clock at x = 0 (first fitted).

    `beta`, `beta_inverse`: fixed effects (2 or 4: level, rate, each with its length term) and A^-1, so that cov =
    sigma2 A^-1. `minus_two_log`: -2 log REML (ML when `restricted` is false) for x in the caller's unit.
    `newton_decrement`: about twice what the log likelihood still lacks at the optimum.
    """

    frame: Frame
    with_length: bool
    segments: int
    readings: int
    theta: np.ndarray
    beta: np.ndarray
    beta_inverse: np.ndarray
    sigma2: float
    sigma_from_instrument: bool
    minus_two_log: float
    restricted: bool
    at_boundary: bool
    newton_decrement: float

    @property
    def relative(self):
        return RelativeCovariance.from_root(*self.theta)

    @property
    def width(self):
        return len(self.beta) // 2

    @property
    def axes(self):
        """Change of axes of (level, rate) out of the frame, for the fixed part."""
        shift, k = self.frame.x_centre / self.frame.x_scale, np.eye(self.width)
        return np.block([[k, -shift * k], [0 * k, k / self.frame.x_scale]])

    @property
    def coefficients(self):
        moved = self.axes @ self.beta
        moved[0] += self.frame.y_centre
        return moved

    @property
    def intercept_db(self):
        """[a0, a1]: dB, dB per metre; a1 = 0 without length terms."""
        return np.resize([*self.coefficients[: self.width], 0.0], 2)

    @property
    def rate_db(self):
        """[b0, b1] per unit of the clock, b1 per metre too; b1 = 0 without length terms."""
        return np.resize([*self.coefficients[self.width :], 0.0], 2)

    @property
    def deviations(self):
        """(sd of intercepts, sd of rates, correlation; 0 where one of them is nothing)."""
        lam = self.relative
        c00, c01, c11 = self.frame.covariance_from(lam.c00, lam.c01, lam.c11)
        sds = np.sqrt(np.maximum([c00, c11], 0) * self.sigma2)
        both = np.sqrt(c00 * c11) if min(c00, c11) > 0 else 0
        return float(sds[0]), float(sds[1]), float(np.clip(c01 / both, -1, 1)) if both else 0.0

    @property
    def residual_sd(self):
        return float(np.sqrt(self.sigma2))


def fit_readings(segment, x, y, length_m, *, with_length=False, sigma=None, restricted=True):
    """PoolFit of readings (`segment` index, `x`, `y`; shape (readings,)) of segments with `length_m` (shape
    (segments,)). Raises NoFit."""
    frame = choose_frame(x, y)
    sums = sum_by_segment(segment, x, y, len(length_m), frame)
    return fit_pool(sums, FixedPart.of(length_m, with_length), frame, sigma=sigma, restricted=restricted)


def fit_pool(sums, fixed, frame, *, sigma=None, restricted=True):
    """Fit from per-segment sums. `sigma`: residual sd in dB when it is known from the instrument, None to estimate
    it. Raises NoFit."""
    seen = np.flatnonzero(sums.n)
    sums, fixed = sums.take(seen), fixed.take(seen)
    deviance = Deviance(sums, fixed, None if sigma is None else sigma**2, restricted)
    theta, decrement = minimise(deviance)
    return _sound(_result(deviance, theta, decrement, frame))


def has_no_noise(fit, sums):
    """True where the readings lie on their lines to rounding: sigma cannot come from them."""
    spread = np.sqrt(sums.yy.sum() / sums.n.sum())
    return not fit.residual_sd > NO_NOISE * spread


def _result(deviance, theta, decrement, frame):
    theta = np.where([True, False, True], np.abs(theta), theta * (np.sign(theta[0]) or 1.0))
    effects = solve_fixed(weigh(deviance.sums, RelativeCovariance.from_root(*theta)), deviance.fixed)
    width = deviance.fixed.width
    unit_of_x = 2 * width * np.log(frame.x_scale) if deviance.restricted else 0.0
    return PoolFit(
        frame=frame,
        with_length=width == 2,
        segments=len(deviance.sums.n),
        readings=int(deviance.sums.n.sum()),
        theta=theta,
        beta=effects.beta,
        beta_inverse=effects.inverse,
        sigma2=float(deviance.residual_variance(effects)),
        sigma_from_instrument=deviance.sigma2 is not None,
        minus_two_log=float(deviance(theta)[0] + unit_of_x),
        restricted=deviance.restricted,
        at_boundary=_at_boundary(theta),
        newton_decrement=float(decrement),
    )


def _sound(fit):
    numbers = (fit.beta, fit.beta_inverse, fit.theta, fit.sigma2, fit.minus_two_log)
    variances = np.append(fit.beta_inverse.diagonal(), fit.sigma2)
    if not all(np.isfinite(part).all() for part in numbers) or (variances < 0).any():
        raise NoFit("The fit is not made of finite numbers.")
    return fit


def _at_boundary(theta):
    return bool(min(abs(theta[0]), abs(theta[2])) < BOUNDARY)


def minimise(deviance):
    """(theta, Newton decrement) at the optimum of a Deviance."""
    step = max(1, len(deviance.sums.n) // SUB_POOL_SEGMENTS)
    sub = _every(deviance, step)
    # a pool of a few segments can have two optima, a large one has not
    starts = STARTS if len(sub.sums.n) < FEW_SEGMENTS else STARTS[:1]
    theta, decrement = min((_newton_from(sub, np.array(start)) for start in starts), key=lambda found: sub(found[0])[0])
    if step > 1 and not _doubtful(theta, decrement):
        theta, decrement = quasi_newton(deviance, theta, hessian(sub, theta) * step)
    if _doubtful(theta, decrement):
        theta = _from_several_starts(deviance)
        theta, decrement = _newton_from(deviance, theta)
    return theta, decrement


def _newton_from(deviance, theta):
    return quasi_newton(deviance, theta, hessian(deviance, theta))


def _doubtful(theta, decrement):
    return _at_boundary(theta) or not decrement < CONVERGED


def _every(deviance, step):
    rows = np.arange(0, len(deviance.sums.n), step)
    return Deviance(deviance.sums.take(rows), deviance.fixed.take(rows), deviance.sigma2, deviance.restricted)


def _from_several_starts(deviance):
    from scipy.optimize import minimize

    bounds = [(0, THETA_MAX), (-THETA_MAX, THETA_MAX), (0, THETA_MAX)]
    found = (minimize(deviance, start, jac=True, method="L-BFGS-B", bounds=bounds) for start in STARTS)
    return min(found, key=lambda result: result.fun).x


def hessian(deviance, theta, step=1e-4):
    """Hessian from central differences of the gradient; good to about eight digits."""
    steps = step * np.maximum(np.abs(theta), 1e-2)
    columns = [
        (deviance(theta + h * unit)[1] - deviance(theta - h * unit)[1]) / (2 * h)
        for h, unit in zip(steps, np.eye(3), strict=True)
    ]
    return (np.array(columns) + np.array(columns).T) / 2


def quasi_newton(deviance, theta, start_hessian, iterations=40, enough=1e-14):
    """BFGS from a given Hessian, with shortened steps; the deviance is even in l22, so a boundary needs no fence.

    Ends with one last step once the Newton decrement g'H^-1 g (in units of log likelihood) is below `enough`.
    """
    inverse = _positive_inverse(start_hessian)
    value, gradient = deviance(theta)
    for _ in range(iterations):
        if gradient @ inverse @ gradient < enough:
            return theta - inverse @ gradient, gradient @ inverse @ gradient
        new, new_value, new_gradient = _downhill(deviance, theta, value, -inverse @ gradient)
        if new is None:
            break
        inverse = _updated(inverse, new - theta, new_gradient - gradient)
        theta, value, gradient = new, new_value, new_gradient
    return theta, gradient @ inverse @ gradient


def _downhill(deviance, theta, value, step):
    slack = 1e-11 * abs(value)  # rounding in the value must not stop what the gradient still sees
    for _ in range(12):
        new_value, new_gradient = deviance(theta + step)
        if new_value <= value + slack:
            return theta + step, new_value, new_gradient
        step = step / 3
    return None, value, None


def _positive_inverse(matrix):
    if not np.isfinite(matrix).all():
        raise NoFit("The likelihood has no curvature.")
    values, vectors = np.linalg.eigh(matrix)
    return vectors / np.maximum(np.abs(values), 1e-8 * np.abs(values).max() or 1.0) @ vectors.T


def _updated(inverse, step, change):
    """BFGS update of the inverse Hessian (Nocedal & Wright 2006, eq. 6.17); skipped where the curvature is not
    positive."""
    curvature = step @ change
    if curvature <= 1e-12 * np.linalg.norm(step) * np.linalg.norm(change):
        return inverse
    left = np.eye(3) - np.outer(step, change) / curvature
    return left @ inverse @ left.T + np.outer(step, step) / curvature
