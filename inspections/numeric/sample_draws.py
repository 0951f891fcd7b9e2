"""Mats drawn at random within strata, from a seed that is kept: the same seed and frame give the same mats."""

import numpy as np

# seeds that people can copy by hand, and that every database holds
LARGEST_SEED = 2**31 - 1


def allocation(counts, size):
    """How many to draw of each stratum: in proportion, by the largest remainder, the first of equal ones; at least one
    of each that is not empty, where `size` suffices for that. `size` is at most the sum of `counts`."""
    counts = np.asarray(counts, int)
    quota = size * counts / max(counts.sum(), 1)
    # a share that is whole but for rounding is that whole number
    drawn = np.floor(np.round(quota, 9)).astype(int)
    rest = np.argsort(-np.round(quota - drawn, 9), kind="stable")[: size - drawn.sum()]
    drawn[rest] += 1
    if size >= np.count_nonzero(counts):
        for empty in np.flatnonzero((drawn == 0) & (counts > 0)):
            drawn[np.argmax(np.where(drawn > 1, drawn - quota, -np.inf))] -= 1
            drawn[empty] = 1
    return drawn


def order_of_draw(count, seed):
    """Rows of a frame in the order in which they are drawn: sorted by one raw number each of a PCG64 generator.

    Raw numbers of that generator are promised to stay the same from version to version of numpy; its higher functions
    are not.
    """
    return np.argsort(np.random.PCG64(seed).random_raw(count), kind="stable") if count else np.zeros(0, int)


def draw(strata, size, seed, before, same=0):
    """Rows of the frame that are drawn, in the order of the frame.

    `strata`: number of each row's stratum; `before`: whether it was in the last sample. `same` of those are drawn again
    as far as there are so many, in proportion over the strata, and the rest are new ones, as far as there are.
    """
    strata, before = np.asarray(strata, int), np.asarray(before, bool)
    order = order_of_draw(len(strata), seed)
    wanted = allocation(np.bincount(strata, minlength=1), size)
    again = np.minimum(wanted, np.bincount(strata[before], minlength=len(wanted)))
    again = allocation(again, min(same, again.sum())) if again.sum() else again
    drawn = [_of_stratum(order[strata[order] == row], before, wanted[row], again[row]) for row in range(len(wanted))]
    return np.sort(np.concatenate(drawn)).astype(int)


def _of_stratum(order, before, wanted, again):
    old, new = order[before[order]], order[~before[order]]
    # where too few are new, more old ones
    return np.concatenate([old[:again], new, old[again:]])[:wanted]
