"""Fixed part, settling and bench-day shifts solved together (Henderson's equations; Robinson 1991, Statistical Science
6(1), 15-32).

X = [A, A t, 1.5 f, kappa Z_day],  H = X'V^-1 X + diag(0; 1 for mu and each day),  RSS = y'V^-1 y - g'H^-1 g.
"""

from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np


class NoFit(ArithmeticError):
    """The readings and lengths lie so far apart that the fit cannot be calculated in floating point."""


@contextmanager
def told_as_no_fit():
    """What overflows, or is singular in floating point, is told as NoFit or by numbers that are not finite."""
    try:
        with np.errstate(all="ignore"):
            yield
    except np.linalg.LinAlgError as singular:
        raise NoFit("The fit is singular in floating point.") from singular


@dataclass(frozen=True)
class Solution:
    """Fixed part, mu and shifts at each point, in the scaled columns X: `values` (points, columns + days), their
    covariance / sigma^2 `inverse` = H^-1, ln|H| and RSS."""

    values: np.ndarray
    inverse: np.ndarray
    log_det: np.ndarray
    residual_squares: np.ndarray


def solve(sums, columns, kappa2):
    """Solution of H x = g at each point. Raises NoFit where the columns cannot be told apart."""
    h, g = _equations(sums, columns, kappa2)
    inverted = [_invert_whole(matrix) for matrix in h]
    inverse, log_det = np.stack([each[0] for each in inverted]), np.array([each[1] for each in inverted])
    values = np.einsum("gab,gb->ga", inverse, g)
    return Solution(values, inverse, log_det, sums.yy - np.einsum("ga,ga->g", values, g))


def _invert_whole(matrix):
    """(inverse, ln determinant) of one positive definite matrix, from one Cholesky factor."""
    from scipy.linalg.lapack import dpotrf, dpotri

    factor, not_positive = dpotrf(matrix, lower=True)
    if not_positive or not np.isfinite(factor.diagonal()).all():
        raise NoFit("The lengths or times cannot be told apart.")
    lower = np.tril(dpotri(factor, lower=True)[0])
    return lower + lower.T - np.diag(lower.diagonal()), 2 * np.log(factor.diagonal()).sum()


def _equations(sums, columns, kappa2):
    """H and g."""
    fixed, days = len(columns), sums.dy.shape[1]
    kappa = np.sqrt(kappa2)[:, None]
    h = np.empty((len(sums.yy), fixed + days, fixed + days))
    h[:, :fixed, :fixed] = sums.ff
    h[:, :fixed, fixed:] = sums.fd * kappa[..., None]
    h[:, fixed:, :fixed] = np.swapaxes(h[:, :fixed, fixed:], 1, 2)
    h[:, fixed:, fixed:] = sums.dd * kappa2[:, None, None]
    with_prior = np.arange(columns.free, fixed + days)
    h[:, with_prior, with_prior] += 1.0
    return h, np.concatenate([sums.fy, kappa * sums.dy], axis=1)
