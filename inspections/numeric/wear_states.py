"""Where each segment's own loss stands: at its last reading, before it (smoothed), and what the readings say of it.

A target (loss at t, or rate) has fixed columns F and a covariance c with the readings, whose own columns and bench days
are A and Z. With P = V^-1, r what is left of the readings without fixed part and shifts, and v = P c by which the
target leans on each reading, all variances over sigma^2:
    mean = F x + c P r,   cov(a, b) = v_ab - c_a v_b + l_a H^-1 l_b',   l = (F - A v, -Z v)
(Robinson 1991, Statistical Science 6(1), 15-32; Harville 1976, Annals of Statistics 4, 384-395).
"""

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from .block_algebra import multiply
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


class Leaning(NamedTuple):
    """How a target leans on what all segments share: `gap` = F - A v on the fixed columns (points, columns, segments),
    `on` = v on each reading's bench day (points, n, segments); and H^-1 l', which is `by_columns` and `by_readings`."""

    gap: np.ndarray
    on: np.ndarray
    by_columns: np.ndarray
    by_readings: np.ndarray

    def covariance(self, other):
        """l_a H^-1 l_b'."""
        return _dot(self.gap, other.by_columns) + _dot(self.on, other.by_readings)


@dataclass(frozen=True)
class PieceAnswers:
    """One piece of a block under PoolPoints: everything that does not depend on the time asked.

    `fixed` = A (columns, n, segments), `p` = P (points, n, n, segments), `own` = P r (points, n, segments); of H^-1
    `with_days` between A and the readings' bench days (points, columns, n, segments), `days` among these (as P).
    """

    piece: object
    points: object
    fixed: np.ndarray
    p: np.ndarray
    own: np.ndarray
    with_days: np.ndarray
    days: np.ndarray

    @classmethod
    def of(cls, piece, points):
        with_days = points.fixed_day_padded.take(piece.day, axis=2)
        return cls(piece, points, *weighed_residuals(piece, points), with_days, points.covariance_of_days(piece.day))

    def take(self, rows):
        """The same of some of the segments."""
        parts = self.fixed, self.p, self.own, self.with_days, self.days
        return PieceAnswers(self.piece.take(rows), self.points, *(part[..., rows] for part in parts))

    @cached_property
    def _relative(self):
        return self.points.relative.spread(1)

    @cached_property
    def _rate(self):
        """(F, c, Leaning) of the rate."""
        v = self.points.relative.spread(2)
        columns, with_readings = self.points.columns.rate_of(self.piece.length_m), v.c01 + v.c11 * self.piece.t
        return columns, with_readings, self.leaning(columns, self._weighed(with_readings))

    def at(self, t, f):
        """Target at scaled times `t`, settled shares `f` (segments,)."""
        v, (rate, rate_with, rate_leaning) = self._relative, self._rate
        level, level_with = self.points.columns.of(self.piece.length_m, t, f), self._level_with(t)
        leaning = self.leaning(level, self._weighed(level_with))
        c00 = v.c00 + 2 * v.c01 * t + v.c11 * t * t + v.wander * t - _dot(level_with, leaning.on)
        c01 = v.c01 + v.c11 * t - _dot(level_with, rate_leaning.on)
        c11 = v.c11 - _dot(rate_with, rate_leaning.on)
        covariances = (
            c00 + leaning.covariance(leaning),
            c01 + leaning.covariance(rate_leaning),
            c11 + rate_leaning.covariance(rate_leaning),
        )
        means = (self._mean(level, level_with), self._mean(rate, rate_with))
        return Target(*means, *(self.points.sigma2[:, None] * part for part in covariances))

    def leaning_at(self, t, f):
        """(F - A v, v) of the loss at scaled times `t`, settled shares `f` (segments,)."""
        leaning = self.leaning(self.points.columns.of(self.piece.length_m, t, f), self._weighed(self._level_with(t)))
        return leaning.gap, leaning.on

    def leaning(self, columns, on):
        """Leaning of a target with fixed columns F that leans on the readings by v."""
        gap = columns - np.einsum("ajs,gjs->gas", self.fixed, on)
        by_columns = np.einsum("gab,gbs->gas", self.points.fixed, gap) - np.einsum("gajs,gjs->gas", self.with_days, on)
        by_readings = np.einsum("gjks,gks->gjs", self.days, on) - np.einsum("gajs,gas->gjs", self.with_days, gap)
        return Leaning(gap, on, by_columns, by_readings)

    def _weighed(self, with_readings):
        """v = P c."""
        return np.einsum("gjks,gks->gjs", self.p, with_readings)

    def _level_with(self, t):
        """Covariance of the loss at `t` with the readings, without what is shared."""
        v, times = self.points.relative.spread(2), self.piece.t
        return v.c00 + v.c01 * (times + t) + v.c11 * (times * t) + v.wander * np.minimum(times, t)

    def _mean(self, columns, with_readings):
        return np.einsum("ga,as->gs", self.points.values, columns) + _dot(with_readings, self.own)

    @cached_property
    def with_fixed(self):
        """G = H^-1 X', its rows of the fixed columns: (points, columns, n, segments)."""
        return np.einsum("gab,bjs->gajs", self.points.fixed, self.fixed) + self.with_days

    @cached_property
    def shared(self):
        """P O P - P, O = X H^-1 X' the covariance of what is taken off the readings: (points, n, n, segments)."""
        off = np.einsum("gajs,aks->gjks", self.with_fixed, self.fixed)
        off += np.einsum("ajs,gaks->gjks", self.fixed, self.with_days) + self.days
        return multiply(multiply(self.p, off), self.p) - self.p

    def departures(self):
        """(residual, variance) of each reading left out by itself, dB: (n, segments), over all points.

        (P r)_j / (P - P O P)_jj is what reading j lies from what all others say, sigma^2 / (P - P O P)_jj its variance
        (Cook & Weisberg 1982, Residuals and Influence in Regression, section 2.2; from memory, tested by leaving out).
        """
        return self._departures(self.own, -np.einsum("gjjs->gjs", self.shared))

    def departure_of_last(self):
        """The same of each segment's last reading alone: (segments,)."""
        weight = self.p[:, :, -1]
        leaning = self.leaning(0.0, weight)
        return self._departures(self.own[:, -1], weight[:, -1] - leaning.covariance(leaning))

    def _departures(self, own, free):
        w, free = self.points.weight, np.maximum(free, 1e-12)
        residual, variance = own / free, self.points.sigma2.reshape(-1, *(1,) * (free.ndim - 1)) / free
        mean = np.tensordot(w, residual, 1)
        return mean, np.tensordot(w, variance + (residual - mean) ** 2, 1)


def _dot(left, right):
    """Sums over columns or readings: (columns or n, segments), points before where there are any."""
    return np.einsum("...js,...js->...s", left, right)


def weighed_residuals(piece, points):
    """(A, P, P r) of a piece."""
    fixed = points.columns.of(piece.length_m, piece.t, piece.f)
    taken = np.einsum("ga,ajs->gjs", points.values, fixed) + points.shift_padded[:, piece.day]
    p = weigh(piece, points.relative, points.sigma2).inverse
    return fixed, p, np.einsum("gjks,gks->gjs", p, piece.loss_db - taken)
