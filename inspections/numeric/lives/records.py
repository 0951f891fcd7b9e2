"""Lives as bench checks show them: the last time a cable was within, and the first time it was over.

The likelihood of a life (F its distribution, S = 1 - F, e the age from which on it is watched):
[S(low) - S(high)]/S(e) where it was within at `low` and over at `high`, S(low)/S(e) where it was never over, f(t)/S(e)
where the age is known to the day (low = high = t). The day on which somebody found it is no failure date: taken for
one, lives end far too sharply (432 wheels of Nelson 1982, each looked at once: Weibull shape 4.8 in place of 2.2).
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Lives:
    """Arrays, one row a life, all in one unit of time from new.

    `entry`: watched from that age on, 0 from new; who was over before is on no record (left truncation). `low`: last
    seen within, 0 never. `high`: first seen over, inf never; equal to `low` where the age is exact. `cluster`: what
    lives alike, such as the mat. Raises ValueError where a row contradicts itself.
    """

    entry: np.ndarray
    low: np.ndarray
    high: np.ndarray
    cluster: np.ndarray

    @classmethod
    def of(cls, low, high, entry=0.0, cluster=None):
        """Columns that broadcast; without `cluster` each life stands alone."""
        low, high, entry = (column.astype(float) for column in np.broadcast_arrays(low, high, entry))
        cluster = np.arange(low.size) if cluster is None else np.asarray(cluster)
        entry, low = entry.ravel(), np.maximum(low, entry).ravel()
        high = high.ravel()
        if not ((entry >= 0) & (low <= high) & (high > 0) & np.isfinite(low)).all():
            raise ValueError("A life ends before it begins, or before it is watched.")
        return cls(entry, low, high, cluster)

    def __len__(self):
        return len(self.low)

    def take(self, chosen):
        return Lives(*(getattr(self, name)[chosen] for name in self.__dataclass_fields__))

    @property
    def is_over(self):
        return np.isfinite(self.high)

    @property
    def is_exact(self):
        return self.low == self.high

    @property
    def failures(self):
        """How many were seen over."""
        return int(self.is_over.sum())

    @property
    def watched_until(self):
        """The last age at which any was seen, within or over; 0 without any."""
        return float(np.where(self.is_over, self.high, self.low).max(initial=0.0))

    def watched_at(self, ages):
        """How many were seen at that age or later, within or over before. Array."""
        last = np.sort(np.where(self.is_over, np.inf, self.low))
        return len(last) - np.searchsorted(last, ages, side="left")
