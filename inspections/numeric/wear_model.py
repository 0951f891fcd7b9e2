"""The model of the pooled loss trend: its random parts in units of sigma^2, and its fixed columns.

y_ij = (a0 + a1 len_i + u_i) + (b0 + b1 len_i + v_i) t + mu f(t) + w_i(t) + s_d + e_ij
(u, v) ~ N(0, sigma^2 L), w_i a Wiener process of variance sigma^2 rho^2 a unit of t, s_d ~ N(0, sigma^2 kappa^2) one
shift per bench day, mu ~ N(0, (1.5 sigma)^2), e ~ N(0, sigma^2); f(t) = 1 - exp(-t / 0.7 y).
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

# prior standard deviation of mu, in sigma
SETTLING_PRIOR = 1.5


class Variances(NamedTuple):
    """Variances in units of sigma^2, arrays of one shape (points,): L = [[c00, c01], [c01, c11]], rho^2 and kappa^2."""

    c00: np.ndarray
    c01: np.ndarray
    c11: np.ndarray
    wander: np.ndarray
    day: np.ndarray

    @classmethod
    def from_root(cls, l11, l21, l22, rho, kappa):
        """From the lower Cholesky factor (l11, l21, l22) of L, rho and kappa."""
        parts = (l11 * l11, l11 * l21, l21 * l21 + l22 * l22, rho * rho, kappa * kappa)
        return cls(*(np.atleast_1d(np.asarray(part, float)) for part in parts))

    def spread(self, axes):
        """The same with `axes` further axes behind."""
        return Variances(*(part.reshape(-1, *(1,) * axes) for part in self))


@dataclass(frozen=True)
class FixedColumns:
    """Which columns stand beside the shifts: level and rate, each with a length term where `with_length`; mu where
    `settling`. A column is a basis function of time (1, t, 1.5 f) times a power of the length."""

    with_length: bool
    settling: bool

    @property
    def free(self):
        """How many have no prior (p)."""
        return 4 if self.with_length else 2

    @property
    def basis(self):
        """Basis function of each column: 0 for 1, 1 for t, 2 for 1.5 f."""
        return np.repeat([0, 1], self.free // 2).tolist() + [2] * self.settling

    @property
    def powers(self):
        """Power of the length of each column."""
        return list(range(self.free // 2)) * 2 + [0] * self.settling

    def __len__(self):
        return self.free + self.settling

    def functions(self, t, f):
        """Basis functions at times `t`, settled shares `f`: (functions, *shape of t)."""
        return np.stack([np.ones_like(t), t, SETTLING_PRIOR * f][: 2 + self.settling])

    def of(self, length_m, t, f):
        """Columns at times `t`, settled shares `f`: (columns, *shape of t); length_m broadcasts against t."""
        functions = self.functions(t, f)
        return np.stack([functions[b] * length_m**p for b, p in zip(self.basis, self.powers, strict=True)])

    def gathered(self, of_columns, length_m):
        """What stands for each column (columns, ..., segments), summed to what stands for each basis function."""
        weighted = of_columns * np.stack([length_m**p for p in self.powers])[:, None]
        return np.stack([weighted[np.array(self.basis) == b].sum(axis=0) for b in range(2 + self.settling)])

    def rate_of(self, length_m):
        """What each column adds to the rate of a segment, without the settling: (columns, segments)."""
        return np.stack([(b == 1) * length_m**p for b, p in zip(self.basis, self.powers, strict=True)]).astype(float)
