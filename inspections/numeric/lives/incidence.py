"""Share that one cause has ended by each age, where others end lives too (Aalen & Johansen 1978), with late entry.

One minus the survival of that cause alone would count lives that another cause had already ended.
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Incidence:
    """Arrays by age of each end by the cause: the share ended by then."""

    age: np.ndarray
    share: np.ndarray

    def share_by(self, ages):
        """Share ended by that cause by these ages. Array."""
        return np.append(0.0, self.share)[np.searchsorted(self.age, ages, side="right")]


def incidence(ended, cause, of, entry=0.0):
    """Incidence of the cause `of`.

    `ended`: age at the end of each life or at its last sight; `cause`: 0 where it goes on, else the number of a cause.
    `entry`: watched from that age on; who had ended before is on no record. A life that enters at an age is watched
    after it, not at it.
    """
    table = _Table.of(ended, cause, of, entry)
    return Incidence(table.age, np.cumsum(table.steps(np.ones((1, len(table.row))))[0]))


def resampled_incidence(ended, cause, of, entry, weights, age):
    """Share ended by the cause `of` by one age, of lives that count as often as `weights` (draws, lives) says.
    Array."""
    table = _Table.of(ended, cause, of, entry)
    return table.steps(weights)[:, table.age <= age].sum(axis=1)


@dataclass(frozen=True)
class _Table:
    """Lives by the age (`age`, in order) at which they end (`row`); `entered`: how many of these ages lie before or at
    the entry of each."""

    age: np.ndarray
    row: np.ndarray
    entered: np.ndarray
    by_any: np.ndarray
    by_cause: np.ndarray

    @classmethod
    def of(cls, ended, cause, of, entry):
        ended, cause, entry = np.broadcast_arrays(np.asarray(ended, float), cause, entry)
        age, row = np.unique(ended, return_inverse=True)
        return cls(age, row.ravel(), np.searchsorted(age, entry, side="right"), cause != 0, cause == of)

    def steps(self, weights):
        """By how much the share rises at each age, for each draw of weights (draws, lives)."""
        ages = len(self.age)
        ended = self._summed(self.row, weights, ages)
        entered = self._summed(self.entered, weights, ages + 1)[:, :-1]
        # at an age are watched those that entered before it, less those that ended before it
        watched = np.cumsum(entered, axis=1) - np.cumsum(ended, axis=1) + ended
        with np.errstate(divide="ignore", invalid="ignore"):
            hazards = [
                np.where(watched > 0, self._summed(self.row[chosen], weights[:, chosen], ages) / watched, 0.0)
                for chosen in (self.by_cause, self.by_any)
            ]
        left = np.cumprod(1 - hazards[1], axis=1)
        return hazards[0] * np.concatenate([np.ones((len(left), 1)), left[:, :-1]], axis=1)

    @staticmethod
    def _summed(row, weights, count):
        from scipy.sparse import csr_array

        picks = csr_array((np.ones(len(row)), (np.arange(len(row)), row)), shape=(len(row), count))
        return weights @ picks
