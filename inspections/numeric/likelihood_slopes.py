"""Derivatives of the likelihood by the variances, one block of segments at a time."""

from typing import NamedTuple

import numpy as np

from .block_algebra import multiply, reverse_sums


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
        return cls(padded[:fixed, :fixed], padded[:fixed, fixed:].copy(), padded[fixed:, fixed:].copy())

    def between(self, day):
        """Those of the shifts of each two readings, from columns `day` (n, segments): (n, n, segments)."""
        return self.dd.ravel().take(day[:, None] * len(self.dd) + day)


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

    O_jk is the covariance of what is taken off readings j and k: O = F'R + R'F + D, F the functions of time and D of
    the shifts. With c_m the sum of the columns k >= m of P, every dV is made of c_m: P 1 = c_0, P t = sum h_m c_m,
    P min(t, t') P = sum h_m c_m c_m'.
    """
    piece, p = weighed.piece, weighed.inverse[0]
    fixed = columns.of(piece.length_m, piece.t, piece.f)
    shift = np.append(values[len(columns) :] * kappa, 0.0)
    residual = piece.loss_db - np.einsum("a,ajs->js", values[: len(columns)], fixed) - shift[piece.day]
    functions = columns.functions(piece.t, piece.f)
    a, p_functions, p_rest = (
        np.einsum("jks,bks->bjs", p, part)
        for part in (residual[None], functions, _rest_of_fixed(piece, columns, fixed, taken_off))
    )
    own = _slopes_of_own(piece, p, taken_off.between(piece.day))
    return own + _slopes_between(piece, a, -a / sigma2) + _slopes_between(piece, p_functions, -2 * p_rest)


def _rest_of_fixed(piece, columns, fixed, taken_off):
    """R (functions, n, segments)."""
    half = np.einsum("ab,bjs->ajs", taken_off.ff / 2, fixed) + np.take(taken_off.fd, piece.day, axis=1)
    return columns.gathered(half, piece.length_m)


def _slopes_of_own(piece, p, d):
    """Those of tr((P - P D P) dV)."""
    c, gaps, t = reverse_sums(p), piece.gaps, piece.t
    d_c = multiply(d, c)
    p_one, p_t, d_t = c[:, 0], np.einsum("jms,ms->js", c, gaps), np.einsum("jms,ms->js", d_c, gaps)
    later = np.einsum("mms->ms", reverse_sums(np.swapaxes(c, 0, 1)))
    return VarianceSlopes(
        c00=p_one.sum() - (p_one * d_c[:, 0]).sum(),
        c01=(p_one * t).sum() - (p_one * d_t).sum(),
        c11=(p_t * t).sum() - (p_t * d_t).sum(),
        wander=(gaps * (later - (c * d_c).sum(axis=0))).sum(),
        alone=(piece.alone * (diagonal_of(p) - _diagonal_of_pop(p, d_c))).sum(),
    )


def _slopes_between(piece, left, right):
    """Those of the sum over b of left_b' dV right_b; both (b, n, segments)."""
    later_l, later_r = reverse_sums(left), reverse_sums(right)
    one_l, one_r = later_l[:, 0], later_r[:, 0]
    t_l, t_r = (np.einsum("js,bjs->bs", piece.t, part) for part in (left, right))
    return VarianceSlopes(
        c00=(one_l * one_r).sum(),
        c01=(one_l * t_r + t_l * one_r).sum() / 2,
        c11=(t_l * t_r).sum(),
        wander=(piece.gaps * later_l * later_r).sum(),
        alone=(piece.alone * left * right).sum(),
    )


def diagonal_of(matrices):
    return np.einsum("jjs->js", matrices)


def _diagonal_of_pop(p, off_c):
    """Diagonal of P O P from O c: the columns of O P are differences of those of O c."""
    off_p = off_c.copy()
    off_p[:, :-1] -= off_c[:, 1:]
    return np.einsum("jks,kjs->js", p, off_p)
