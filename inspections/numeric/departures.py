"""Readings that lie too far from what all others say to be part of a fit."""

import numpy as np

from .reading_blocks import lay_out
from .wear_states import PieceAnswers, weighed_residuals

# Standard deviations, the reading itself left out
DEPARTS_BEYOND = 4.0
# how many readings of a whole pool without a fault may be left out by chance, on average
LEFT_OUT_BY_CHANCE = 0.5


def left_out_beyond(readings):
    """Standard deviations beyond which one of so many readings is left out: 4, and 4.9 among half a million, of which
    chance alone puts thirty beyond 4."""
    from scipy.special import ndtri

    return max(DEPARTS_BEYOND, float(-ndtri(LEFT_OUT_BY_CHANCE / 2 / max(readings, 1))))


def departed(points, readings, left_out, length_m):
    """`departed_in` those of the readings that are not `left_out`."""
    some = readings.take(np.flatnonzero(~left_out))
    return departed_in(points, lay_out(some, length_m, points.keys, points.scale), left_out)


def departed_in(points, blocks, left_out):
    """(mask over FitReadings of those that depart under PoolPoints, mask of those of them that are the last of their
    segment and high); of those `left_out` already none: the others are laid out in `blocks`.

    Of each segment the one that departs most: beside a wrong reading the right ones seem to depart as well. A last one
    that is high may be a fault: its own line keeps it, and it is to be measured again.
    """
    rows, beyond = np.flatnonzero(~left_out), left_out_beyond(len(left_out))
    found, high_last = np.zeros((2, len(left_out)), bool)
    for piece in points.pieces_in(blocks):
        if piece.readings_each < 2:
            continue
        piece = piece.take(_may_depart(piece, points, beyond))
        residual, variance = PieceAnswers.of(piece, points).departures()
        z = residual / np.sqrt(variance)
        far = np.abs(z) > np.maximum(beyond, np.abs(z).max(axis=0) * (1 - 1e-9))
        found[rows[piece.reading[far]]] = True
        high_last[rows[piece.reading[-1][far[-1] & (z[-1] > 0)]]] = True
    return found, high_last


def _may_depart(piece, points, beyond):
    """Mask of the segments that are worth a whole calculation; of a small pool all.

    Fixed part and shifts take off less than three quarters of what a reading weighs, or it tells its own day's shift
    alone: one that departs lies beyond half as far without that.
    """
    if len(points.weight) > 1:
        return np.ones(len(piece.rows), bool)
    _, p, own = weighed_residuals(piece, points)
    z = own[0] / np.sqrt(points.sigma2[0] * np.einsum("jjs->js", p[0]))
    return (np.abs(z) > beyond / 2).any(axis=0)
