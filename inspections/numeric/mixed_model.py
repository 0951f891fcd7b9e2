"""The likelihood of the pooled loss trend, from per-segment sums, with its gradient.

y_it = (a0 + a1 len_i + u_i) + (b0 + b1 len_i + v_i) t + e,  (u, v) ~ N(0, sigma^2 L),  e ~ N(0, sigma^2).
Bates, Maechler, Bolker & Walker (2015), J. Stat. Softw. 67(1), sections 2 and 3, in closed 2 x 2 form per segment:
with S = [[n, Sx], [Sx, Sxx]] and r = (Sy, Sxy),
    |M| = 1 + tr(L S) + |L||S|,   W = (S + |S| adj L) / |M|,
    h = (r + adj(L) adj(S) r) / |M|,   c = Syy - r'(L + |L| adj S) r / |M|.
These equal W = S - S R M^-1 R'S, h = r - S R M^-1 R'r with L = R R', M = I + R'S R, but only add where those
subtract, so that nothing cancels. Everything broadcasts: one L for all segments, or a column of many (grid, 1)
against (segments,). Sums over the segments go through einsum, not `@`: the threads of the matrix library wait for
each other on a busy two-core machine, which made a fit of 100,000 segments five times slower.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np


class NoFit(ArithmeticError):
    """The readings and lengths lie so far apart that the fit cannot be calculated in floating point."""


class RelativeCovariance(NamedTuple):
    """L = D / sigma^2 of (level, rate) and its determinant, kept apart because computing it from the rest cancels."""

    c00: np.ndarray
    c01: np.ndarray
    c11: np.ndarray
    det: np.ndarray

    @classmethod
    def from_root(cls, l11, l21, l22):
        """From the lower Cholesky factor theta = (l11, l21, l22)."""
        return cls(l11 * l11, l11 * l21, l21 * l21 + l22 * l22, (l11 * l22) ** 2)

    def moved(self, shift):
        """The same segments' deviations with the level taken at x + `shift`: T L T', T = [[1, shift], [0, 1]], |T| =
        1."""
        c01 = self.c01 + shift * self.c11
        return RelativeCovariance(self.c00 + shift * (self.c01 + c01), c01, self.c11, self.det)


@dataclass(frozen=True)
class FixedPart:
    """Fixed columns A_i = [[a_i, 0], [0, a_i]]: a_i = (1, length_m), or (1,) without length terms; shape (1 or 2,
    segments)."""

    columns: np.ndarray

    @classmethod
    def of(cls, length_m, with_length):
        ones = np.ones(len(length_m))
        return cls(np.stack([ones, np.asarray(length_m, float)]) if with_length else ones[None])

    @property
    def width(self):
        return self.columns.shape[0]

    @cached_property
    def squares(self):
        """a_i a_i', flattened: (width^2, segments)."""
        a = self.columns
        return (a[:, None, :] * a[None, :, :]).reshape(a.shape[0] ** 2, a.shape[1])

    def take(self, rows):
        return FixedPart(self.columns[:, rows])

    def line(self, beta):
        """A_i beta: (level, rate) per segment, shape (..., segments)."""
        return tuple(np.einsum("...k,kn->...n", part, self.columns) for part in np.split(beta, 2, axis=-1))

    def spread(self, inverse):
        """The entries 00, 01, 11 of A_i V A_i' for a symmetric V of shape (..., 2 width, 2 width)."""
        k, flat = self.width, (*inverse.shape[:-2], self.width**2)
        blocks = inverse[..., :k, :k], inverse[..., :k, k:], inverse[..., k:, k:]
        return tuple(np.einsum("...k,kn->...n", block.reshape(flat), self.squares) for block in blocks)


class Weights(NamedTuple):
    """|M_i|, W_i, h_i and c_i of each segment."""

    det: np.ndarray
    w00: np.ndarray
    w01: np.ndarray
    w11: np.ndarray
    h0: np.ndarray
    h1: np.ndarray
    c: np.ndarray


class FixedEffects(NamedTuple):
    """beta = A^-1 sum A_i'h_i, A^-1, ln|A| and RSS = sum c_i - beta' sum A_i'h_i at one L (or a grid of them)."""

    beta: np.ndarray
    inverse: np.ndarray
    log_det: np.ndarray
    residual_squares: np.ndarray


def weigh(s, lam):
    """W_i, h_i, c_i of the segments with sums `s` under the relative covariance `lam`."""
    det = 1 + lam.c00 * s.n + 2 * lam.c01 * s.x + lam.c11 * s.xx + lam.det * s.det
    drop = lam.c00 * s.y**2 + 2 * lam.c01 * s.y * s.xy + lam.c11 * s.xy**2 + lam.det * (s.y * s.e0 + s.xy * s.e1)
    return Weights(
        det=det,
        w00=(s.n + s.det * lam.c11) / det,
        w01=(s.x - s.det * lam.c01) / det,
        w11=(s.xx + s.det * lam.c00) / det,
        h0=(s.y + lam.c11 * s.e0 - lam.c01 * s.e1) / det,
        h1=(s.xy + lam.c00 * s.e1 - lam.c01 * s.e0) / det,
        c=s.yy - drop / det,
    )


def solve_fixed(weights, fixed):
    """Generalised least squares for the fixed part, summed over the segments (last axis). Raises NoFit."""
    w00, w01, w11 = (_over_segments(w, fixed.squares, 2) for w in (weights.w00, weights.w01, weights.w11))
    a = np.concatenate([np.concatenate([w00, w01], axis=-1), np.concatenate([w01, w11], axis=-1)], axis=-2)
    b = np.concatenate([_over_segments(h, fixed.columns, 1) for h in (weights.h0, weights.h1)], axis=-1)
    try:
        inverse = np.linalg.inv(a)
    except np.linalg.LinAlgError as singular:
        raise NoFit("The lengths or times cannot be told apart.") from singular
    beta = (inverse @ b[..., None])[..., 0]
    residual_squares = weights.c.sum(axis=-1) - (beta * b).sum(axis=-1)
    return FixedEffects(beta, inverse, np.linalg.slogdet(a)[1], residual_squares)


def _over_segments(values, columns, axes):
    """sum_i values_i columns_i; the columns of a square (axes = 2) folded back to width x width."""
    sums = np.einsum("...n,kn->...k", values, columns)
    return sums.reshape(*sums.shape[:-1], *(round(sums.shape[-1] ** (1 / axes)),) * axes)


def _dot(left, right):
    return np.einsum("n,n->", left, right)


@dataclass(frozen=True)
class Deviance:
    """-2 log likelihood of theta = (l11, l21, l22) with its gradient; REML, or ML for comparing wear clocks.

    `sigma2`: None to profile it out, else fixed (where no segment has readings at two times, trap 5).
    The value is that of the frame's x; `Frame` scales shift REML by a constant, ML not at all.
    """

    sums: object
    fixed: FixedPart
    sigma2: float | None = None
    restricted: bool = True

    @cached_property
    def degrees(self):
        return float(self.sums.n.sum()) - (2 * self.fixed.width if self.restricted else 0)

    def residual_variance(self, effects):
        return effects.residual_squares / self.degrees if self.sigma2 is None else self.sigma2

    def __call__(self, theta):
        """(value, gradient[3])."""
        lam = RelativeCovariance.from_root(*theta)
        weights = weigh(self.sums, lam)
        effects = solve_fixed(weights, self.fixed)
        sigma2 = self.residual_variance(effects)
        if not sigma2 > 0:
            return np.inf, np.zeros(3)
        value = (
            np.log(weights.det).sum() + self.degrees * np.log(2 * np.pi * sigma2) + effects.residual_squares / sigma2
        )
        if self.restricted:
            value += effects.log_det
        return value, self._gradient(theta, weights, effects, sigma2)

    def _gradient(self, theta, w, effects, sigma2):
        """Lower part of 2 G L, G = sum [W - W A A^-1 A' W - q q'/sigma^2], q = h - W A beta (ML: without the A^-1
        term)."""
        level, rate = self.fixed.line(effects.beta)
        q0, q1 = w.h0 - w.w00 * level - w.w01 * rate, w.h1 - w.w01 * level - w.w11 * rate
        g00 = w.w00.sum() - _dot(q0, q0) / sigma2
        g01 = w.w01.sum() - _dot(q0, q1) / sigma2
        g11 = w.w11.sum() - _dot(q1, q1) / sigma2
        if self.restricted:
            b00, b01, b11 = self.fixed.spread(effects.inverse)
            p00, p01 = w.w00 * b00 + w.w01 * b01, w.w00 * b01 + w.w01 * b11
            p10, p11 = w.w01 * b00 + w.w11 * b01, w.w01 * b01 + w.w11 * b11
            g00 -= _dot(p00, w.w00) + _dot(p01, w.w01)
            g01 -= _dot(p00, w.w01) + _dot(p01, w.w11)
            g11 -= _dot(p10, w.w01) + _dot(p11, w.w11)
        l11, l21, l22 = theta
        return 2 * np.array([g00 * l11 + g01 * l21, g01 * l11 + g11 * l21, g11 * l22])
