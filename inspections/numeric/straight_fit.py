"""One straight line through the readings of one segment.

Formulae: Draper & Smith, Applied Regression Analysis (1998), chapter 1. Every sum is taken about the means, so that day
numbers counted from a far-off day cost no digits.
"""

from dataclasses import dataclass

import numpy as np


class TooFewReadings(ValueError):
    """The readings do not determine a line: fewer than two, or all at the same time."""


@dataclass(frozen=True)
class StraightFit:
    """A least-squares line: `x` in the caller's unit of time, `y` in dB.

    `degrees` of freedom are n - 2; the residual sd of two readings is nan.
    """

    readings: int
    x_mean: float
    y_mean: float
    x_squares: float
    slope: float
    residual_squares: float

    @property
    def intercept(self):
        return self.y_mean - self.slope * self.x_mean

    @property
    def degrees(self):
        return self.readings - 2

    @property
    def residual_sd(self):
        return float(np.sqrt(self.residual_squares / self.degrees)) if self.degrees else float("nan")

    @property
    def slope_se(self):
        return self.residual_sd / self.x_squares**0.5

    @property
    def intercept_se(self):
        return self.line_se(0.0)

    def at(self, x):
        return self.y_mean + self.slope * (x - self.x_mean)

    def line_se(self, x):
        """Standard error of the line itself at `x`, in dB."""
        return self.residual_sd * np.sqrt(1 / self.readings + (x - self.x_mean) ** 2 / self.x_squares)


def fit_straight(x, y):
    """Least squares through `x`, `y` (1-d, same length). Raises TooFewReadings unless two different `x` are there."""
    x, y = np.asarray(x, float), np.asarray(y, float)
    if x.size < 2 or x.min() == x.max():
        raise TooFewReadings("A line needs readings at two different times.")
    x_mean, y_mean = x.mean(), y.mean()
    dx, dy = x - x_mean, y - y_mean
    slope = dx @ dy / (dx @ dx)
    residuals = dy - slope * dx
    return StraightFit(x.size, float(x_mean), float(y_mean), float(dx @ dx), float(slope), float(residuals @ residuals))
