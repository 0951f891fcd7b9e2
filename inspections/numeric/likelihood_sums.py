"""Sums over all readings that a likelihood is made of: of V^-1 between the columns of the model.

V_i / sigma^2 = I + Z_i L Z_i' + rho^2 min(t, t') + kappa^2 on a reading that is alone on its day.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .block_algebra import invert


@dataclass(frozen=True)
class Weighed:
    """One piece of a block under some points of parameters: P = (V / sigma^2)^-1, (points, n, n, segments)."""

    piece: object
    inverse: np.ndarray
    log_det: np.ndarray


def weigh(piece, variances, sigma2=None):
    """Weighed piece; `sigma2` (points,) is needed where readings bring further variance in dB^2."""
    v = variances.spread(3)
    t, n = piece.t, piece.readings_each
    both = v.c00 + v.c01 * (t[:, None] + t[None, :]) + v.c11 * (t[:, None] * t[None, :]) + v.wander * piece.earlier
    noise = 1.0 + variances.spread(2).day * piece.alone
    if sigma2 is not None and piece.extra_db2.any():
        noise = noise + piece.extra_db2 / np.reshape(sigma2, (-1, 1, 1))
    diagonal = np.arange(n)
    both[:, diagonal, diagonal] += noise
    return Weighed(piece, *invert(both))


class Sums(NamedTuple):
    """What a likelihood needs of all segments, for each point: ln|V|, y'P y, and P between fixed columns (f), days
    (d) and readings (y). Day columns not yet scaled by kappa."""

    log_det: np.ndarray
    yy: np.ndarray
    fy: np.ndarray
    dy: np.ndarray
    ff: np.ndarray
    fd: np.ndarray
    dd: np.ndarray

    def __add__(self, other):
        return Sums(*(a + b for a, b in zip(self, other, strict=True)))

    def in_units_of(self, sigma2):
        """Sums made in dB, in units of `sigma2` (points,); ln|V| stays in dB."""
        sigma2 = np.reshape(sigma2, (-1,))
        return Sums(self.log_det, *(sigma2.reshape(-1, *(1,) * (part.ndim - 1)) * part for part in self[1:]))


def sum_pieces(pieces, columns, days):
    """Sums of all Weighed `pieces`; `days`: how many bench days have a column."""
    parts, pairs = [], None
    for weighed in pieces:
        pairs = np.zeros((len(weighed.inverse), (days + 1) ** 2)) if pairs is None else pairs
        _add_pairs_of_days(pairs, weighed.inverse, weighed.piece.day, days)
        parts.append(_sums_but_pairs(weighed, columns, days))
    pairs = pairs.reshape(-1, days + 1, days + 1)[:, :days, :days]
    return Sums(*(sum(part) for part in zip(*parts, strict=True)), dd=pairs + np.swapaxes(pairs, 1, 2))


def _sums_but_pairs(weighed, columns, days):
    """The Sums of one weighed piece before `dd`."""
    piece, p = weighed.piece, weighed.inverse
    basis = columns.functions(piece.t, piece.f)
    powers = np.stack([piece.length_m**k for k in range(3 if columns.with_length else 1)])
    p_basis = np.einsum("gjks,cks->gcjs", p, basis)
    p_y = np.einsum("gjks,ks->gjs", p, piece.loss_db)
    ff = np.einsum("gcds,ps->gcdp", np.einsum("gcjs,djs->gcds", p_basis, basis), powers)
    fy = np.einsum("gcs,ps->gcp", np.einsum("gcjs,js->gcs", p_basis, piece.loss_db), powers)
    b, k = np.array(columns.basis), np.array(columns.powers)
    return (
        weighed.log_det.sum(axis=-1),
        np.einsum("gjs,js->g", p_y, piece.loss_db),
        fy[:, b, k],
        _by_day(p_y, piece.day, days),
        ff[:, b[:, None], b[None, :], k[:, None] + k[None, :]],
        _by_day(p_basis[:, b] * powers[k][:, None], piece.day, days),
    )


def _by_day(values, day, days):
    """Sums of `values` (..., n, segments) over readings of each bench day: (..., days)."""
    return _sums_of_rows(values.reshape(-1, day.size), day.ravel(), days + 1).reshape(*values.shape[:-2], -1)[
        ..., :days
    ]


def _sums_of_rows(rows, index, size):
    """Sums of each row by `index`: (rows, size)."""
    each = np.arange(len(rows))[:, None] * size + index
    return np.bincount(each.ravel(), rows.ravel(), len(rows) * size).reshape(len(rows), size)


def _add_pairs_of_days(pairs, p, day, days):
    """Adds P_jk of readings j > k, and half of P_jj, to the `pairs` (points, flat) of their days: with its transpose
    that makes the sum over all j and k."""
    high, low = np.tril_indices(len(day))
    pair, share = (day[high] * (days + 1) + day[low]).ravel(), np.where(high == low, 0.5, 1.0)[:, None]
    values = (share * p[:, high, low]).reshape(len(p), -1)
    if pairs.shape[1] < len(pair):
        pairs += _sums_of_rows(values, pair, pairs.shape[1])
    else:
        # without passing over all pairs of many days for the readings of a few segments
        for total, each in zip(pairs, values, strict=True):
            np.add.at(total, pair, each)
