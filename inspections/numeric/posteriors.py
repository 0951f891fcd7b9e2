"""Where each segment's own line lies, given its readings and the fitted pool.

Robinson (1991), Statistical Science 6(1), 15-32 (best linear unbiased prediction); with |M|, W, h as in `mixed_model`:
    m_i = A_i beta + L q_i,   C_i = sigma^2 [ (L + |L| adj S)/|M| + B_i A_i A^-1 A_i' B_i' ],
    B_i = (I + L S)^-1 = I - L W_i.
The first term of C is L M^-1 L' (theta form); the textbook L - L W L is the same on paper and turned negative in
trials.
"""

from typing import NamedTuple

import numpy as np

from .mixed_model import weigh


class SegmentLines(NamedTuple):
    """Normal posterior of each segment's line: means and covariance of (intercept, rate); arrays of one shape.

    intercept dB at x = 0, rate dB per unit of the wear clock; c00 dB^2, c01 dB^2 per unit, c11 dB^2 per unit squared.
    """

    intercept: np.ndarray
    rate: np.ndarray
    c00: np.ndarray
    c01: np.ndarray
    c11: np.ndarray

    def take(self, rows):
        return SegmentLines(*(column[..., rows] for column in self))

    def at(self, x):
        """Mean loss of the line at `x`, dB."""
        return self.intercept + self.rate * x

    def sd_at(self, x):
        """Standard deviation of the line (not of the next reading) at `x`, dB."""
        return np.sqrt(np.maximum(self.c00 + x * (2 * self.c01 + x * self.c11), 1e-300))


def segment_lines(sums, fixed, fit):
    """Posterior lines under a PoolFit, in the caller's units; without readings, the line of the segment's length."""
    lines = lines_in_frame(sums, fixed, fit.relative, fit.beta, fit.beta_inverse)
    return out_of_frame(lines, fit.frame, fit.sigma2)


def out_of_frame(lines, frame, sigma2):
    intercept, rate = frame.line_from(lines.intercept, lines.rate)
    return SegmentLines(intercept, rate, *frame.covariance_from(*(sigma2 * c for c in lines[2:])))


def lines_in_frame(sums, fixed, lam, beta, beta_inverse):
    """Means and covariances / sigma^2 in the frame; a grid of parameters, (grid, 1), gives (grid, segments)."""
    weights = weigh(sums, lam)
    level, rate = fixed.line(beta)
    q0 = weights.h0 - weights.w00 * level - weights.w01 * rate
    q1 = weights.h1 - weights.w01 * level - weights.w11 * rate
    kept = _own_part(sums, lam, weights.det)
    shared = _shared_part(sums, lam, weights.det, fixed.spread(beta_inverse))
    return SegmentLines(
        level + lam.c00 * q0 + lam.c01 * q1,
        rate + lam.c01 * q0 + lam.c11 * q1,
        *(a + b for a, b in zip(kept, shared, strict=True)),
    )


def _own_part(sums, lam, det):
    """(L + |L| adj S) / |M|: what the segment's own readings leave uncertain of its line, / sigma^2."""
    return (
        (lam.c00 + lam.det * sums.xx) / det,
        (lam.c01 - lam.det * sums.x) / det,
        (lam.c11 + lam.det * sums.n) / det,
    )


def _b_matrix(sums, lam, det):
    """B = (I + L S)^-1 = adj(I + L S) / |M|, entries 00, 01, 10, 11."""
    return (
        (1 + lam.c01 * sums.x + lam.c11 * sums.xx) / det,
        -(lam.c00 * sums.x + lam.c01 * sums.xx) / det,
        -(lam.c01 * sums.n + lam.c11 * sums.x) / det,
        (1 + lam.c00 * sums.n + lam.c01 * sums.x) / det,
    )


def _shared_part(sums, lam, det, spread):
    """B V B'."""
    b00, b01, b10, b11 = _b_matrix(sums, lam, det)
    v00, v01, v11 = spread
    return (
        b00 * b00 * v00 + 2 * b00 * b01 * v01 + b01 * b01 * v11,
        b00 * b10 * v00 + (b00 * b11 + b01 * b10) * v01 + b01 * b11 * v11,
        b10 * b10 * v00 + 2 * b10 * b11 * v01 + b11 * b11 * v11,
    )
