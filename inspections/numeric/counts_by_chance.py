"""How many of several things happen, each with a chance of its own."""

from math import ceil, sqrt

import numpy as np


def count_chances(chances):
    """P(0), P(1), … of how many happen: the sum of unequal Bernoullis, convolved one after the other.

    `chances` in [0, 1], independent of each other. The end is left out where all of it together is below 1e-12
    (Bernstein's inequality for a sum of bounded variables), so that the work grows with the number of chances only.
    """
    chances = np.asarray(chances, float)
    mean, variance = chances.sum(), (chances * (1 - chances)).sum()
    most = min(len(chances), ceil(mean + 12 * sqrt(variance) + 30))
    counts = np.zeros(most + 1)
    counts[0] = 1.0
    for chance in chances:
        counts[1:] = counts[1:] * (1 - chance) + counts[:-1] * chance
        counts[0] *= 1 - chance
    return counts


def count_interval(chances, within=0.9):
    """(least, most) that happen with at least that chance: each side is left out with (1 − within)/2 at most."""
    below = np.cumsum(count_chances(chances))
    tail = (1 - within) / 2
    # rounding leaves the last sum a little below 1
    least, most = (int(np.searchsorted(below, level - 1e-12)) for level in (tail, 1 - tail))
    return least, most
