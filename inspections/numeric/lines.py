"""One straight line through the readings of one segment, and where it meets a level.

Formulae: Draper & Smith, Applied Regression Analysis (1998), chapters 1 and 3; the inverse interval is Fieller's
(1954). Every sum is taken about the means, so that day numbers counted from a far-off day cost no digits.
"""

from dataclasses import dataclass

import numpy as np


class TooFewReadings(ValueError):
    """The readings do not determine a line: fewer than two, or all at the same time."""


@dataclass(frozen=True)
class StraightLine:
    """A least-squares line: `x` in the caller's unit of time, `y` in dB.

    `degrees` of freedom are n - 2; the residual sd of two readings is nan.
    """

    readings: int
    x_mean: float
    y_mean: float
    x_squares: float
    slope: float
    residual_squares: float
    total_squares: float

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

    @property
    def regression_squares(self):
        return self.slope**2 * self.x_squares

    @property
    def r_squared(self):
        return self.regression_squares / self.total_squares

    @property
    def f_ratio(self):
        return self.regression_squares / self.residual_sd**2

    def at(self, x):
        return self.y_mean + self.slope * (x - self.x_mean)

    def line_se(self, x):
        """Standard error of the line itself at `x`, in dB."""
        return self.residual_sd * np.sqrt(1 / self.readings + (x - self.x_mean) ** 2 / self.x_squares)


@dataclass(frozen=True)
class LinePrediction:
    """The line at one x, dB, with the intervals of the line (`line_`) and of the next reading (`reading_`)."""

    value: float
    line_se: float
    line_low: float
    line_high: float
    reading_low: float
    reading_high: float


@dataclass(frozen=True)
class LevelCrossing:
    """Where a line meets a level: estimate, Wald standard error, and Fieller's interval.

    At g >= 1 there is no finite interval: `low` and `high` are nan.
    """

    estimate: float
    standard_error: float
    low: float
    high: float
    g: float


def fit_line(x, y):
    """Least squares through `x`, `y` (1-d, same length). Raises TooFewReadings unless two different `x` are there."""
    x, y = np.asarray(x, float), np.asarray(y, float)
    if x.size < 2 or x.min() == x.max():
        raise TooFewReadings("A line needs readings at two different times.")
    x_mean, y_mean = x.mean(), y.mean()
    dx, dy = x - x_mean, y - y_mean
    slope = dx @ dy / (dx @ dx)
    residuals = dy - slope * dx
    return StraightLine(
        x.size, float(x_mean), float(y_mean), float(dx @ dx), float(slope), float(residuals @ residuals), float(dy @ dy)
    )


def student_quantile(confidence, degrees):
    from scipy.special import stdtrit

    return float(stdtrit(degrees, (1 + confidence) / 2))


def predict_line(line, x, confidence=0.95):
    """The line at `x` with both intervals, which are different statements: of the line, and of the next reading."""
    t = student_quantile(confidence, line.degrees)
    value, line_se = line.at(x), line.line_se(x)
    reading_se = np.hypot(line_se, line.residual_sd)
    return LinePrediction(
        value, line_se, value - t * line_se, value + t * line_se, value - t * reading_se, value + t * reading_se
    )


def level_crossing(line, level_db, confidence=0.95, *, of_reading=False):
    """Fieller's interval for the x at which the line (or, `of_reading`, one new reading) stands at `level_db`.

    x^ + [d g +- (t s / b) sqrt(d^2/Sxx + (1 - g)(k + 1/n))] / (1 - g), with d = x^ - mean x, g = t^2 s^2 / (b^2 Sxx),
    k = 0 for the line and 1 for a new reading (Draper & Smith 1998, section 3.2; Graybill & Iyer 1994, section
    6.2-6.3).
    """
    if line.slope == 0:
        return LevelCrossing(float("nan"), float("nan"), float("nan"), float("nan"), float("inf"))
    t, s, b = student_quantile(confidence, line.degrees), line.residual_sd, line.slope
    spread = float(of_reading) + 1 / line.readings
    distance = (level_db - line.y_mean) / b
    estimate, g = line.x_mean + distance, (t * line.slope_se / b) ** 2
    wald_se = s / abs(b) * np.sqrt(spread + distance**2 / line.x_squares)
    if g >= 1:
        return LevelCrossing(estimate, wald_se, float("nan"), float("nan"), g)
    half = t * s / abs(b) * np.sqrt(distance**2 / line.x_squares + (1 - g) * spread)
    return LevelCrossing(
        estimate, wald_se, estimate + (distance * g - half) / (1 - g), estimate + (distance * g + half) / (1 - g), g
    )
