"""Derivatives of the likelihood by the variances, one block of segments at a time."""

from typing import NamedTuple

import numpy as np

from .block_algebra import reverse_sums


class Padded(NamedTuple):
    """H^-1 between fixed columns (ff), with shifts in units of sigma (fd, dd), and a last column of noughts for
    readings without a shift."""

    ff: np.ndarray
    fd: np.ndarray
    dd: np.ndarray

    @classmethod
    def of(cls, inverse, fixed, kappa, days):
        padded = np.zeros((fixed + days + 1,) * 2)
        padded[:-1, :-1] = inverse
        padded[fixed:] *= kappa
        padded[:, fixed:] *= kappa
        return cls(padded[:fixed, :fixed], padded[:fixed, fixed:], padded[fixed:, fixed:])


class VarianceSlopes(NamedTuple):
    """Derivatives of the deviance by the entries of L (c01 counted once), by rho^2, and by kappa^2 of readings that
    are alone."""

    c00: float
    c01: float
    c11: float
    wander: float
    alone: float

    @classmethod
    def zero(cls):
        return cls(0.0, 0.0, 0.0, 0.0, 0.0)

    def __add__(self, other):
        return VarianceSlopes(*(a + b for a, b in zip(self, other, strict=True)))


def slopes_of(weighed, columns, values, taken_off, kappa, sigma2):
    """VarianceSlopes of one piece: tr(M dV) with M = P - P O P - a a' / sigma^2, a = P (y - X x).

    O_jk is the covariance of what is taken off readings j and k. With c_m the sum of the columns k >= m of P, every
    dV is made of c_m: P 1 = c_0, P t = sum h_m c_m, P min(t, t') P = sum h_m c_m c_m'.
    """
    piece, p = weighed.piece, weighed.inverse[0]
    fixed = columns.of(piece.length_m, piece.t, piece.f)
    shift = np.append(values[len(columns) :] * kappa, 0.0)
    residual = piece.loss_db - np.einsum("a,ajs->js", values[: len(columns)], fixed) - shift[piece.day]
    a = np.einsum("jks,ks->js", p, residual)
    off = covariance_taken_off(piece, fixed, taken_off)
    c = reverse_sums(p)
    off_c = np.einsum("jks,kms->jms", off, c)
    gaps, t = piece.gaps, piece.t
    p_one, p_t = c[:, 0], np.einsum("jms,ms->js", c, gaps)
    off_t = np.einsum("jms,ms->js", off_c, gaps)
    sum_a, sum_at = a.sum(axis=0), (a * t).sum(axis=0)
    later_a = np.cumsum(a[::-1], axis=0)[::-1]
    return VarianceSlopes(
        c00=p_one.sum() - (p_one * off_c[:, 0]).sum() - sum_a @ sum_a / sigma2,
        c01=(p_one * t).sum() - (p_one * off_t).sum() - sum_a @ sum_at / sigma2,
        c11=(p_t * t).sum() - (p_t * off_t).sum() - sum_at @ sum_at / sigma2,
        wander=(gaps * (np.einsum("mms->ms", reverse_sums(np.swapaxes(c, 0, 1))) - (c * off_c).sum(axis=0)
                        - later_a**2 / sigma2)).sum(),
        alone=(piece.alone * (diagonal_of(p) - _diagonal_of_pop(p, off_c) - a**2 / sigma2)).sum(),
    )  # fmt: skip


def covariance_taken_off(piece, fixed, taken_off):
    """O / sigma^2, (n, n, segments)."""
    with_days = taken_off.fd[:, piece.day]
    both = np.einsum("ab,bjs->ajs", taken_off.ff, fixed) + with_days
    days = piece.day
    return (
        np.einsum("ajs,aks->jks", both, fixed)
        + np.einsum("ajs,aks->jks", fixed, with_days)
        + taken_off.dd[days[:, None], days[None, :]]
    )


def diagonal_of(matrices):
    return np.einsum("jjs->js", matrices)


def _diagonal_of_pop(p, off_c):
    """Diagonal of P O P from O c: the columns of O P are differences of those of O c."""
    off_p = off_c.copy()
    off_p[:, :-1] -= off_c[:, 1:]
    return np.einsum("jks,kjs->js", p, off_p)
