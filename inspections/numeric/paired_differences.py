"""What cleaning takes away: the mean difference of pairs of readings of one cable, before and after it."""

from dataclasses import dataclass

import numpy as np

# fewer do not settle a mean that is a few hundredths of a dB
ENOUGH_PAIRS = 20


@dataclass(frozen=True)
class PairedDifference:
    """`mean_db`, `error_db` (its standard error): NaN where there are too few pairs to have one."""

    pairs: int
    mean_db: float
    error_db: float

    @property
    def is_enough(self):
        return self.pairs >= ENOUGH_PAIRS


def paired_difference(before_db, after_db):
    """Mean of before − after over the pairs, dB, with its standard error s / sqrt(n): the paired comparison of
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.3.1.1. Pairs with a NaN are left out."""
    difference = np.asarray(before_db, float) - np.asarray(after_db, float)
    difference = difference[~np.isnan(difference)]
    count = len(difference)
    mean = float(difference.mean()) if count else float("nan")
    error = float(difference.std(ddof=1) / np.sqrt(count)) if count > 1 else float("nan")
    return PairedDifference(count, mean, error)
