"""Where each segment's own loss stands: at its last reading, before it (smoothed), and what the readings say of it.

A target (loss at t, or rate) has fixed columns F and a covariance c with the readings. With P = V^-1, r what is left of
the readings without fixed part and shifts, O = X H^-1 X' the covariance of what was taken off them, and G = H^-1 X' its
rows of the fixed columns, all variances over sigma^2:
    mean = F x + c P r,   cov(a, b) = v_ab + F_a H^-1 F_b' - F_a G P c_b' - F_b G P c_a' + c_a (P O P - P) c_b'
(Robinson 1991, Statistical Science 6(1), 15-32; Harville 1976, Annals of Statistics 4, 384-395).
"""

from functools import cached_property
from typing import NamedTuple

import numpy as np

from .likelihood_sums import weigh


class SegmentStates(NamedTuple):
    """Normal posterior of a segment's own loss `level` (dB) and `rate` (dB a unit of the clock) at `x_last`, the time
    of its last reading (0 without one); arrays of one shape, points before segments.

    c00 dB^2, c01 dB^2 a unit, c11 dB^2 a unit squared; `q` dB^2 a unit: the wander from there on.
    """

    level: np.ndarray
    rate: np.ndarray
    c00: np.ndarray
    c01: np.ndarray
    c11: np.ndarray
    q: np.ndarray

    def take(self, rows):
        return SegmentStates(*(column[..., rows] for column in self))

    def take_point(self, number):
        return SegmentStates(*(column[number] for column in self))

    def moments(self, weight):
        """The mean and covariance of weighted points together (law of total variance)."""
        level, rate = weight @ self.level, weight @ self.rate
        d0, d1 = self.level - level, self.rate - rate
        within = (self.c00 + d0 * d0, self.c01 + d0 * d1, self.c11 + d1 * d1, self.q)
        return SegmentStates(level, rate, *(weight @ part for part in within))

    def at(self, ahead):
        """Mean loss `ahead` after the last reading, dB, without what settles."""
        return self.level + self.rate * ahead

    def sd_at(self, ahead):
        """Standard deviation of the loss itself (not of the next reading) `ahead` after the last reading, dB."""
        return np.sqrt(np.maximum(self.c00 + ahead * (2 * self.c01 + self.q + ahead * self.c11), 1e-300))


class Target(NamedTuple):
    """Mean and (co)variances of loss and rate at a time, over the points: (points, segments); dB and scaled time."""

    level: np.ndarray
    rate: np.ndarray
    c00: np.ndarray
    c01: np.ndarray
    c11: np.ndarray


class PieceAnswers:
    """One piece of a block under PoolPoints: everything that does not depend on the time asked, computed once.

    `own` = P r (points, n, segments), `shared` = P O P - P (points, n, n, segments), `cross` = G P (points, columns,
    n, segments).
    """

    def __init__(self, piece, points, own, shared, cross):
        self.piece, self.points = piece, points
        self.own, self.shared, self.cross = own, shared, cross

    @classmethod
    def of(cls, piece, points):
        fixed, p, own = weighed_residuals(piece, points)
        with_fixed, off = covariances_taken_off(piece, points, fixed)
        return cls(
            piece,
            points,
            own=own,
            shared=np.einsum("gjks,gkls->gjls", np.einsum("gjks,gkls->gjls", p, off), p) - p,
            cross=np.einsum("gajs,gjks->gaks", with_fixed, p),
        )

    def take(self, rows):
        """The same of some of the segments."""
        return PieceAnswers(
            self.piece.take(rows), self.points, *(part[..., rows] for part in (self.own, self.shared, self.cross))
        )

    @cached_property
    def _relative(self):
        return self.points.relative.spread(1)

    @cached_property
    def _rate(self):
        """(F, c) of the rate, and what a target's F and c are multiplied with in its covariance with the rate."""
        v = self.points.relative.spread(2)
        columns = self.points.columns.rate_of(self.piece.length_m)
        with_readings = v.c01 + v.c11 * self.piece.t
        by_columns = np.einsum("gab,bs->gas", self.points.fixed, columns)
        by_columns = by_columns - np.einsum("gajs,gjs->gas", self.cross, with_readings)
        by_readings = np.einsum("gjks,gks->gjs", self.shared, with_readings)
        by_readings = by_readings - np.einsum("as,gajs->gjs", columns, self.cross)
        return columns, with_readings, by_columns, by_readings

    def at(self, t, f):
        """Target at scaled times `t`, settled shares `f` (segments,)."""
        v, (rate, rate_with, by_columns, by_readings) = self._relative, self._rate
        level, level_with = self.points.columns.of(self.piece.length_m, t, f), self.level_with(t)
        c00 = v.c00 + 2 * v.c01 * t + v.c11 * t * t + v.wander * t + self._variance(level, level_with)
        c01 = v.c01 + v.c11 * t + _dot(level, by_columns) + _dot(level_with, by_readings)
        c11 = v.c11 + _dot(rate, by_columns) + _dot(rate_with, by_readings)
        means = (self._mean(level, level_with), self._mean(rate, rate_with))
        return Target(*means, *(self.points.sigma2[:, None] * part for part in (c00, c01, c11)))

    def level_with(self, t):
        """Covariance of the loss at `t` with the readings, without what is shared."""
        v, times = self.points.relative.spread(2), self.piece.t
        return v.c00 + v.c01 * (times + t) + v.c11 * (times * t) + v.wander * np.minimum(times, t)

    def _mean(self, columns, with_readings):
        return np.einsum("ga,as->gs", self.points.values, columns) + _dot(with_readings, self.own)

    def _variance(self, columns, with_readings):
        """F H^-1 F' - 2 F G P c' + c (P O P - P) c'."""
        of_columns = np.einsum("gab,bs->gas", self.points.fixed, columns)
        of_columns -= 2 * np.einsum("gajs,gjs->gas", self.cross, with_readings)
        of_readings = np.einsum("gjks,gks->gjs", self.shared, with_readings)
        return _dot(columns, of_columns) + _dot(with_readings, of_readings)

    def departures(self):
        """(residual, variance) of each reading left out by itself, dB: (n, segments), over all points.

        (P r)_j / (P - P O P)_jj is what reading j lies from what all others say, sigma^2 / (P - P O P)_jj its variance
        (Cook & Weisberg 1982, Residuals and Influence in Regression, section 2.2; from memory, tested by leaving out).
        """
        w, free = self.points.weight, np.maximum(-np.einsum("gjjs->gjs", self.shared), 1e-12)
        residual, variance = self.own / free, self.points.sigma2[:, None, None] / free
        mean = np.einsum("g,gjs->js", w, residual)
        return mean, np.einsum("g,gjs->js", w, variance + (residual - mean) ** 2)


def _dot(left, right):
    """Sums over columns or readings: (columns or n, segments), points before where there are any."""
    return np.einsum("...js,...js->...s", left, right)


def weighed_residuals(piece, points):
    """(X of the fixed columns, P, P r) of a piece."""
    fixed = points.columns.of(piece.length_m, piece.t, piece.f)
    taken = np.einsum("ga,ajs->gjs", points.values, fixed) + points.shift_padded[:, piece.day]
    p = weigh(piece, points.relative, points.sigma2).inverse
    return fixed, p, np.einsum("gjks,gks->gjs", p, piece.loss_db - taken)


def covariances_taken_off(piece, points, fixed):
    """(G, O): covariances over sigma^2 of what is taken off the readings, with the fixed columns (points, columns, n,
    segments) and among each other (points, n, n, segments)."""
    with_days = points.fixed_day_padded.take(piece.day, axis=2)
    both = np.einsum("gab,bjs->gajs", points.fixed, fixed) + with_days
    off = np.einsum("gajs,aks->gjks", both, fixed) + np.einsum("ajs,gaks->gjks", fixed, with_days)
    return both, off + points.covariance_of_days(piece.day)
