"""Which value most likely keeps the pool from being fitted: a slip of a decimal point, or of a unit."""

import numpy as np

# Cables of one pool differ by less: 0.5 m and 4 m, 0.3 dB and 3 dB, some days and ten years.
SUSPICIOUS_TIMES = 20


def farthest_above(values):
    """(row, usual value, how many times it) of the largest of `values` against their median; times 1 where none is."""
    values = np.abs(np.asarray(values, float))
    if not values.size:
        return -1, np.nan, 1.0
    row, usual = int(values.argmax()), float(np.median(values))
    return row, usual, values[row] / usual if usual > 0 else np.inf if values[row] > 0 else 1.0
