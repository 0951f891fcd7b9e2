"""Share that one cause has ended by each age, where others end lives too (Aalen & Johansen 1978), with late entry.

One minus the survival of that cause alone would count lives that another cause had already ended.
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Incidence:
    """Arrays by age of each end by the cause: the share ended by then, and how many were watched just before."""

    age: np.ndarray
    share: np.ndarray
    watched: np.ndarray

    def share_by(self, ages):
        """Share ended by that cause by these ages. Array."""
        return np.append(0.0, self.share)[np.searchsorted(self.age, ages, side="right")]


def incidence(ended, cause, of, entry=0.0, weights=None):
    """Incidence of the cause `of`.

    `ended`: age at the end of each life or at its last sight; `cause`: 0 where it goes on, else the number of a cause.
    `entry`: watched from that age on; who had ended before is on no record. A life that enters at an age is watched
    after it, not at it. `weights`: how often each counts.
    """
    ended, cause, entry = np.broadcast_arrays(np.asarray(ended, float), cause, entry)
    weights = np.ones(len(ended)) if weights is None else np.asarray(weights, float)
    age, row = np.unique(ended, return_inverse=True)
    by_any = np.bincount(row, weights * (cause != 0), minlength=len(age))
    by_cause = np.bincount(row, weights * (cause == of), minlength=len(age))
    watched = _weight_from(ended, weights, age) - _weight_from(entry, weights, age)
    with np.errstate(divide="ignore", invalid="ignore"):
        hazard, hazard_any = (np.where(watched > 0, count / watched, 0.0) for count in (by_cause, by_any))
    left = np.cumprod(np.append(1.0, 1 - hazard_any))[:-1]
    has = by_cause > 0
    return Incidence(age[has], np.cumsum(left * hazard)[has], watched[has])


def _weight_from(values, weights, ages):
    """The sum of weights of values that are as large as each age or larger."""
    order = np.argsort(values, kind="stable")
    summed = np.append(0.0, np.cumsum(weights[order]))
    return summed[-1] - summed[np.searchsorted(values[order], ages, side="left")]
