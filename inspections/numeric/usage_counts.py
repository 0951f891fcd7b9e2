"""Counting what mats went through: sums over spans of days, and the day on which a count is reached.

A log is sorted once by mat and day; every question is then a binary search, for all segments at a time.
Mats are whole numbers from 0 below 2^43, days are `datetime64[D]`.
"""

from dataclasses import dataclass

import numpy as np

from .calendar import LAST_DAY, NO_DAY

# one integer per (mat, day): days of either sign within a thousand years of 1970 fit into the span
_SPAN = 1 << 20
_MIDDLE = _SPAN // 2
_YEAR, _ONE_DAY = np.timedelta64(365, "D"), np.timedelta64(1, "D")


def _key(mat, day):
    number = np.asarray(day, dtype="datetime64[D]").astype(np.int64)
    return np.asarray(mat, dtype=np.int64) * _SPAN + np.clip(number + _MIDDLE, 0, _SPAN - 1)


@dataclass(frozen=True)
class UsageLog:
    """Usage events in order of mat and start. `order` maps a row here to the row it was given as."""

    mat: np.ndarray
    start: np.ndarray
    key: np.ndarray
    total: np.ndarray  # total[i] = sum of the weights before row i
    order: np.ndarray

    @classmethod
    def of(cls, mat, start, weight):
        """Sort rows (mat, start day, weight ≥ 1); three arrays of one length."""
        mat, start = np.asarray(mat, dtype=np.int64), np.asarray(start, dtype="datetime64[D]")
        key = _key(mat, start)
        order = np.argsort(key, kind="stable")
        total = np.concatenate([[0], np.cumsum(np.asarray(weight, dtype=np.int64)[order])])
        return cls(mat[order], start[order], key[order], total, order)

    def before(self, mat, day):
        """Number of rows that stand before that day of that mat."""
        return np.searchsorted(self.key, _key(mat, day))

    def sum_between(self, mat, from_day, to_day):
        """Sum of weights with from_day ≤ start < to_day; 0 for an empty span."""
        low, high = self.before(mat, from_day), self.before(mat, to_day)
        return np.where(high > low, self.total[high] - self.total[np.minimum(low, high)], 0)

    def of_last_year(self, mat, day):
        """Sum of weights of each mat in the 365 days to `day`, that day among them."""
        days = np.full(np.shape(mat), day, "datetime64[D]")
        return self.sum_between(mat, days - (_YEAR - _ONE_DAY), days + _ONE_DAY)

    def day_reaching(self, mat, from_day, need):
        """Start of the row at which the sum from `from_day` on reaches `need` (≥ 1); NaT when it never does."""
        if not len(self.start):
            return np.full(np.shape(need), NO_DAY)
        low = self.before(mat, from_day)
        row = np.searchsorted(self.total, self.total[low] + need, side="left") - 1
        inside = np.minimum(row, len(self.start) - 1)
        return np.where((row < len(self.start)) & (self.mat[inside] == mat), self.start[inside], NO_DAY)

    def last_start(self, mat):
        """The mat's last start in the log; NaT without one."""
        if not len(self.start):
            return np.full(np.shape(mat), NO_DAY)
        row = np.searchsorted(self.mat, mat, side="right") - 1
        return np.where((row >= 0) & (self.mat[row] == mat), self.start[row], NO_DAY)


def gives_way(mat, starts_on, counts, usual):
    """True for usual use that counts for nothing: others of the mat that count start in its month. Arrays.

    `counts`: what counts as wear, usual use included.
    """
    given = counts & usual
    if not given.any():
        return given
    month = starts_on.astype("datetime64[M]").astype(np.int64)
    key = np.asarray(mat, dtype=np.int64) * _SPAN + np.clip(month + _MIDDLE, 0, _SPAN - 1)
    return given & np.isin(key, key[counts & ~usual])


def first_ending_from(log, ends, mat, day):
    """Row (as given to the log) of the mat's first event, by start, that ends on or after `day`; −1 without one.

    `ends` are the end days of the rows as given. A NaT day has no row.
    """
    if not len(log.start):
        return np.full(np.shape(mat), -1)
    end_key = _key(log.mat, np.asarray(ends, dtype="datetime64[D]")[log.order])
    # the latest end so far: the first row whose running maximum reaches the day is the first that ends that late
    reach = np.maximum.accumulate(end_key)
    row = np.searchsorted(reach, _key(mat, np.where(np.isnat(day), np.datetime64(0, "D"), day)))
    inside = np.minimum(row, len(log.start) - 1)
    found = (row < len(log.start)) & (log.mat[inside] == mat) & ~np.isnat(day)
    return np.where(found, log.order[inside], -1)


def projected_day(day, to_go, events_a_year):
    """`ceil(365 · to go / r)` days after `day`; NaT after the year 9999, or where the mat has no usual rate (r = 0)."""
    rate = np.maximum(events_a_year, 1)
    days = -(-365 * np.asarray(to_go, dtype=np.int64) // rate)
    reached = day + days.astype("timedelta64[D]")
    return np.where((events_a_year > 0) & (reached <= LAST_DAY), reached, NO_DAY)
