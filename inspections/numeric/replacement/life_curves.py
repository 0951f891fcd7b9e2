"""Lives as curves that can be integrated: how many are still within by an age, and how many are still in use.

What is over is in use until somebody finds it. Checks come at random, so many a year: of those over and in use at age
t, U(t), U' = f − checks · U, f the density of lives. With no check what is over stays until it is changed by age.
"""

from dataclasses import dataclass

import numpy as np

# ages of a curve: close together where lives are short
POINTS = 160
# shares below this are none: the slopes of a curve through smaller ones overflow
NONE = 1e-12
GAUSS = np.polynomial.legendre.leggauss(4)


def curve_ages(horizon, points=POINTS):
    """Ages from 0 to the horizon at which a life is asked for, ever farther apart."""
    return horizon * np.linspace(0, 1, points) ** 2


@dataclass(frozen=True)
class Pieces:
    """Polynomials between ages, a curve a column: `powers` (order, ages − 1, columns), the highest power first."""

    ages: np.ndarray
    powers: np.ndarray

    @classmethod
    def through(cls, ages, values):
        """Cubics that rise and fall with the values, and nowhere between them (Fritsch & Butland 1984)."""
        from scipy.interpolate import PchipInterpolator

        return cls(ages, PchipInterpolator(ages, values, axis=0).c)

    @property
    def integral(self):
        """Pieces of the integral from the first age on."""
        order = len(self.powers)
        powers = np.concatenate([self.powers / np.arange(order, 0, -1)[:, None, None], np.zeros_like(self.powers[:1])])
        whole = _horner(powers, np.diff(self.ages)[:, None])
        powers[-1, 1:] = np.cumsum(whole, axis=0)[:-1]
        return Pieces(self.ages, powers)

    @property
    def slope(self):
        """Pieces of the derivative."""
        return Pieces(self.ages, self.powers[:-1] * np.arange(len(self.powers) - 1, 0, -1)[:, None, None])

    def at(self, age):
        """Values at an age of each column: (columns,)."""
        piece = np.clip(np.searchsorted(self.ages, age, side="right") - 1, 0, len(self.ages) - 2)
        return _horner(self.powers[:, piece, np.arange(self.powers.shape[-1])], age - self.ages[piece])

    def at_ages(self):
        """Values at the ages between which the pieces lie: (ages, columns)."""
        end = _horner(self.powers[:, -1], self.ages[-1] - self.ages[-2])
        return np.concatenate([self.powers[-1], end[None]])


def _horner(powers, x):
    value = powers[0]
    for power in powers[1:]:
        value = value * x + power
    return value


@dataclass(frozen=True)
class LifeCurves:
    """Pieces by age, a life a column. `within`: share neither over nor changed; `in_use`: the same with those that are
    over and not found; `lived_within`, `lived`: their integrals from 0 on. `checks`: per unit of age; inf: what is over
    is found at once."""

    within: Pieces
    in_use: Pieces
    lived_within: Pieces
    lived: Pieces
    checks: np.ndarray

    @classmethod
    def of(cls, ages, within, checks=np.inf):
        """`within`: (ages, columns), below 1 at age 0 where some are over from new; `checks`: of each column, or of
        all."""
        checks = np.broadcast_to(np.asarray(checks, float), within.shape[1:])
        within = np.where(within < NONE, 0.0, within)
        alive = Pieces.through(ages, within)
        in_use = within + _not_found(alive, checks)
        in_use = Pieces.through(ages, np.where(in_use < NONE, 0.0, in_use))
        return cls(alive, in_use, alive.integral, in_use.integral, checks)

    @property
    def ages(self):
        return self.within.ages

    @property
    def horizon(self):
        return self.ages[-1]


def _not_found(within, checks):
    """Share over and in use at each age: (ages, columns)."""
    ages, slope = within.ages, within.slope
    over = np.zeros((len(ages), len(checks)))
    at_random = np.isfinite(checks)
    if not at_random.any():
        return over
    over[0] = 1 - within.powers[-1, 0]
    rate = np.where(at_random, checks, 0.0)
    nodes, weights = (GAUSS[0] + 1) / 2, GAUSS[1] / 2
    for piece, step in enumerate(np.diff(ages)):
        passed = nodes[:, None] * step
        went_over = -_horner(slope.powers[:, piece][:, None], passed)
        stay = np.exp(-rate * (step - passed))
        over[piece + 1] = over[piece] * np.exp(-rate * step) + step * (weights @ (went_over * stay))
    return np.where(at_random, over, 0.0)
