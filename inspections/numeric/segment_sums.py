"""The readings of every segment, boiled down to six numbers each: all that the pooled fit needs to know of them.

Sums are kept about each segment's own mean, in a frame (centre and scale of x, centre of y) chosen for the whole pool:
raw sums of far-off day numbers lose every digit of the slope, without an error.
"""

from dataclasses import dataclass, fields

import numpy as np


@dataclass(frozen=True)
class Frame:
    """x' = (x - x_centre) / x_scale, y' = y - y_centre; x in the unit of the wear clock (years or events), y in dB."""

    x_centre: float
    x_scale: float
    y_centre: float

    def line_from(self, level, rate):
        """(intercept dB at x = 0, rate dB per unit of x) of the line `level + rate x'` of this frame."""
        return self.y_centre + level - rate * (self.x_centre / self.x_scale), rate / self.x_scale

    def covariance_from(self, c00, c01, c11):
        """The same change of axes for the covariance of (level, rate)."""
        shift = self.x_centre / self.x_scale
        return c00 - 2 * shift * c01 + shift**2 * c11, (c01 - shift * c11) / self.x_scale, c11 / self.x_scale**2


@dataclass(frozen=True)
class SegmentSums:
    """Per segment, in the frame: S = [[n, x], [x, xx]], r = (y, xy), yy, |S|, and adj(S) r = (e0, e1).

    `x_squares` is about the segment's mean, `own_line_squares` about its own straight line. All arrays of shape
    (segments,); a segment without a reading has zeros throughout.
    """

    n: np.ndarray
    x: np.ndarray
    xx: np.ndarray
    y: np.ndarray
    xy: np.ndarray
    yy: np.ndarray
    det: np.ndarray
    e0: np.ndarray
    e1: np.ndarray
    x_squares: np.ndarray
    own_line_squares: np.ndarray

    def take(self, rows):
        return SegmentSums(*(getattr(self, field.name)[rows] for field in fields(self)))


def choose_frame(x, y):
    """Frame in which the readings have mean 0 and x has standard deviation 1 (1 where x does not vary)."""
    return Frame(float(np.mean(x)), float(np.std(x)) or 1.0, float(np.mean(y)))


def sum_by_segment(segment, x, y, segments, frame):
    """Sums of readings (`segment` index, `x` on the wear clock, `y` dB; shape (readings,)) for `segments` segments."""
    x, y = (np.asarray(x, float) - frame.x_centre) / frame.x_scale, np.asarray(y, float) - frame.y_centre
    n = np.bincount(segment, minlength=segments).astype(float)
    x_mean, y_mean = (np.bincount(segment, v, segments) / np.maximum(n, 1) for v in (x, y))
    dx, dy = x - x_mean[segment], y - y_mean[segment]
    within = (np.bincount(segment, v, segments) for v in (dx * dx, dx * dy, dy * dy))
    return _from_within(n, x_mean, y_mean, *within)


def _from_within(n, x_mean, y_mean, sxx, sxy, syy):
    spread = sxx > 1e-20 * np.maximum(n, 1)  # what rounding leaves of equal x is not a spread
    sxx, sxy = np.where(spread, sxx, 0.0), np.where(spread, sxy, 0.0)
    own_line = np.maximum(syy - np.divide(sxy**2, sxx, out=np.zeros_like(sxx), where=spread), 0.0)
    return SegmentSums(
        n=n,
        x=n * x_mean,
        xx=sxx + n * x_mean**2,
        y=n * y_mean,
        xy=sxy + n * x_mean * y_mean,
        yy=syy + n * y_mean**2,
        det=n * sxx,
        e0=n * (sxx * y_mean - x_mean * sxy),
        e1=n * sxy,
        x_squares=sxx,
        own_line_squares=own_line,
    )
