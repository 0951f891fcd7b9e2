"""Readings laid out for array algebra: segments with the same number of readings stand beside each other.

All that is done for a segment of n readings is done for a whole block at once, on arrays whose last axis counts the
segments. A block is cut into pieces that stay in the processor's cache.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

# numbers in one n x n array of a piece, all points of parameters counted: a megabyte
PIECE_NUMBERS = 1 << 17
# the same where dates are looked for, which costs as much for a few segments as for many
DATED_NUMBERS = 1 << 19
# time constant of what gathers on connectors and levels off; 0.4 to 1.5 years gave the same dates (trial figures)
SETTLING_YEARS = 0.7


def settled(years):
    """f(t) = 1 - exp(-t / 0.7 y): the share of the settling that has come, t in years since first fitted."""
    return -np.expm1(-np.asarray(years, float) / SETTLING_YEARS)


@dataclass(frozen=True)
class Block:
    """Segments of n readings each, in order of time; arrays (n, segments) unless said otherwise.

    `rows` (segments,): their numbers; `length_m` (segments,); `t`: clock; `f`: settled share; `loss_db`; `day`:
    column of the bench day's shift, the number of columns where it has none; `alone`: 1 where a reading carries the
    whole variance of a bench day by itself, else 0; `extra_db2`: further variance, dB^2; `reading`: row of the reading.
    """

    rows: np.ndarray
    length_m: np.ndarray
    t: np.ndarray
    f: np.ndarray
    loss_db: np.ndarray
    day: np.ndarray
    alone: np.ndarray
    extra_db2: np.ndarray
    reading: np.ndarray

    @property
    def readings_each(self):
        return self.t.shape[0]

    @cached_property
    def gaps(self):
        """h_m = t_m - t_(m-1), t_(-1) = 0: min(t_j, t_k) is the sum of h_m over m <= j, k."""
        return np.diff(self.t, axis=0, prepend=0.0)

    @cached_property
    def earlier(self):
        """min(t_j, t_k), shape (n, n, segments); rows are in order of time."""
        n = np.arange(self.readings_each)
        return self.t[np.minimum(n[:, None], n[None, :])]

    def pieces(self, points, numbers=PIECE_NUMBERS):
        """Blocks of fewer segments, so that `points` n x n matrices of each fit in the cache."""
        step = max(1, numbers // (points * max(self.readings_each, 1) ** 2))
        if len(self.rows) <= step:
            return [self]
        return [self.take(slice(start, start + step)) for start in range(0, len(self.rows), step)]

    def take(self, chosen):
        """Some of the segments."""
        return Block(*(getattr(self, name)[..., chosen] for name in self.__dataclass_fields__))


def lay_out(readings, length_m, keys, scale):
    """Blocks of all segments 0 ... len(length_m) - 1, those without a reading in a block of n = 0.

    `keys`: sorted keys of the bench days that have a column; `scale`: units of the clock to one of `t`. A reading with
    a shift of its own (`shift_db`) is laid out without it, its uncertainty as further variance.
    """
    shift_known = ~np.isnan(readings.shift_sd_db)
    column = np.where(shift_known, len(keys), day_columns(readings.day, keys))
    loss_db = readings.loss_db - np.where(shift_known, readings.shift_db, 0.0)
    parts = {
        "t": readings.x / scale,
        "f": settled(readings.years),
        "loss_db": loss_db,
        "day": column,
        "alone": ((column == len(keys)) & ~shift_known).astype(float),
        "extra_db2": np.where(shift_known, readings.shift_sd_db, 0.0) ** 2,
        "reading": np.arange(len(column)),
    }
    order = _by_segment_and_time(readings)
    count = np.bincount(readings.segment, minlength=len(length_m))
    first = np.cumsum(count) - count
    blocks = []
    for n in np.unique(count):
        rows = np.flatnonzero(count == n)
        index = first[rows] + np.arange(n)[:, None]
        index = index if order is None else order[index]
        blocks.append(Block(rows, length_m[rows], **{name: part[index] for name, part in parts.items()}))
    return blocks


def _by_segment_and_time(readings):
    """Order of readings by segment and time; None where they stand so."""
    same = np.diff(readings.segment)
    if ((same > 0) | ((same == 0) & (np.diff(readings.x) >= 0))).all():
        return None
    return np.lexsort((readings.x, readings.segment))


def day_columns(day, keys):
    """Column of each bench day `day` in the sorted `keys`; len(keys) where it is not among them."""
    at = np.searchsorted(keys, day)
    return np.where(np.append(keys, -1)[at] == day, at, len(keys)) if len(keys) else np.zeros(len(day), np.intp)


def shared_days(day):
    """Sorted keys of the bench days with two readings or more, and how many each has."""
    keys, count = np.unique(day[day >= 0], return_counts=True)
    return keys[count > 1], count[count > 1]
