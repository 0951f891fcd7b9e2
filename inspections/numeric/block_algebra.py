"""Products, inverse and determinant of many small symmetric matrices at once; arrays (..., n, n, segments).

A library call for each matrix costs a microsecond or two before it computes anything: what is small is written out over
the last axis, so that every step works on all, and what is larger is left to the library.
"""

import numpy as np

# rows up to which writing out is quicker
LARGEST_WRITTEN_OUT = 10


def multiply(left, right):
    """Matrix products, (..., j, k, segments) by (..., k, m, segments)."""
    if left.shape[-2] <= LARGEST_WRITTEN_OUT:
        return np.einsum("...jks,...kms->...jms", left, right)
    return np.ascontiguousarray(np.moveaxis(_segments_first(left) @ _segments_first(right), -3, -1))


def _segments_first(matrices):
    return np.ascontiguousarray(np.moveaxis(matrices, -1, -3))


def invert(matrices):
    """(inverse, ln determinant) of positive definite matrices; nan of those that are not."""
    written_out = matrices.shape[-2] <= LARGEST_WRITTEN_OUT
    return _invert_written_out(matrices) if written_out else _invert_each(matrices)


def _invert_each(matrices):
    from scipy.linalg.lapack import dpotrf, dpotri

    stacked = np.moveaxis(matrices, -1, -3).copy()
    # the library has columns first: what is symmetric it takes transposed, and works in place
    each = list(stacked.reshape(-1, *stacked.shape[-2:]).swapaxes(-1, -2))
    failed = [dpotrf(matrix, lower=True, clean=False, overwrite_a=True)[1] for matrix in each]
    stacked[np.reshape(failed, stacked.shape[:-2]) != 0] = np.nan
    log_det = 2 * np.log(np.einsum("...jj->...j", stacked)).sum(axis=-1)
    for matrix in each:
        dpotri(matrix, lower=True, overwrite_c=True)
    inverse = np.ascontiguousarray(np.moveaxis(stacked, -3, -1))
    for row in range(inverse.shape[-2] - 1):
        inverse[..., row + 1 :, row, :] = inverse[..., row, row + 1 :, :]
    return inverse, log_det


def _invert_written_out(matrices):
    """By their factors L D L', the inverse filled from its last row up: P = D^-1 + (I - L') P (Takahashi, Fagan & Chin
    1973; from memory, tested against numpy). The sweep operator takes as long and loses twice the digits: with levels
    that spread by 80 times sigma a segment's variance came out a third wrong.
    """
    n = matrices.shape[-3]
    factors, inverse = matrices.copy(), np.empty_like(matrices)
    for k in range(n - 1):
        below = factors[..., k, k + 1 :, :] / factors[..., k, None, k, :]
        factors[..., k + 1 :, k + 1 :, :] -= below[..., :, None, :] * factors[..., None, k, k + 1 :, :]
        factors[..., k + 1 :, k, :] = below
    pivots = np.einsum("...jjs->...js", factors)
    for k in range(n - 1, -1, -1):
        below = factors[..., k + 1 :, k, :]
        row = -np.einsum("...is,...ijs->...js", below, inverse[..., k + 1 :, k + 1 :, :])
        inverse[..., k, k + 1 :, :] = row
        inverse[..., k + 1 :, k, :] = row
        inverse[..., k, k, :] = 1 / pivots[..., k, :] - (below * row).sum(axis=-2)
    return inverse, np.log(pivots).sum(axis=-2)


def reverse_sums(matrices):
    """Column m of the result is the sum of the columns k >= m: (..., n, n, segments)."""
    sums = matrices.copy()
    for m in range(matrices.shape[-2] - 2, -1, -1):
        sums[..., m, :] += sums[..., m + 1, :]
    return sums
