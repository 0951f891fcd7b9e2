"""How many of a pool are over, by a sample that was drawn by strata: exact, whatever share of each stratum was read."""

from functools import lru_cache, partial

import numpy as np


def stratified_interval(over, size, pool, confidence=0.95, most_over=None):
    """(low, high): how many of the pool are over, by every number that an exact test does not refuse.

    Sequences, one of each stratum: `over` so many of the `size` read are over, `pool` are there. A number is refused
    where no split of it over the strata makes as few, or as many, as were found likelier than (1 - confidence)/2. The
    ends are each tested so, as those of Clopper and Pearson (1934) are. `most_over`: as many are over where all
    undecided ones are; the upper end is theirs. Strata that were read whole leave nothing open.
    """
    over, size, pool = (np.asarray(each, int) for each in (over, size, pool))
    most = over if most_over is None else np.asarray(most_over, int)
    open_strata = size < pool
    read = tuple(zip(size[open_strata].tolist(), pool[open_strata].tolist(), strict=True))
    low = _lowest(int(over[open_strata].sum()), read, (1 - confidence) / 2)
    high = _highest(int(most[open_strata].sum()), read, (1 - confidence) / 2)
    return int(over[~open_strata].sum()) + low, int(most[~open_strata].sum()) + high


def _lowest(found, read, least):
    """The smallest number of which `found` or more are likely enough; the likelihood grows with the number."""
    likely = partial(_likeliest, read, lambda chance: float(chance[found:].sum()))
    low, high = 0, sum(pool for _, pool in read)
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if likely(middle) > least else (middle + 1, high)
    return low


def _highest(found, read, least):
    """The largest number of which `found` or fewer are likely enough."""
    likely = partial(_likeliest, read, lambda chance: float(chance[: found + 1].sum()))
    low, high = 0, sum(pool for _, pool in read)
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if likely(middle) > least else (low, middle - 1)
    return low


def _likeliest(read, tail, number):
    """The highest tail of the number found that a split of `number` over the strata gives: uphill from three splits."""
    return max((_uphill(read, tail, start) for start in _starts(read, number)), default=1.0)


def _starts(read, number):
    """In proportion; the strata that were read least filled first; those read most."""
    by_share = sorted(range(len(read)), key=lambda row: read[row][0] / read[row][1])
    pools = np.array([pool for _, pool in read])
    if len(read) == 0:
        return []
    even = np.minimum(number * pools // pools.sum(), pools)
    return [
        _filled(read, by_share, number, even),
        _filled(read, by_share, number, even * 0),
        _filled(read, by_share[::-1], number, even * 0),
    ]


def _filled(read, order, number, begun):
    split = begun.copy()
    for row in order:
        split[row] += min(number - int(split.sum()), read[row][1] - int(split[row]))
    return split


def _uphill(read, tail, split):
    """Units are moved from stratum to stratum, many at once at first, as long as that makes the tail likelier."""
    value, step = tail(_chances(read, split)), max(int(split.sum()) // 2, 1)
    while step:
        better = [(tail(_chances(read, each)), each) for each in _moved(read, split, step)]
        best = max(better, key=lambda pair: pair[0], default=(value, split))
        if best[0] > value + 1e-15:
            value, split = best
        else:
            step //= 2
    return value


def _moved(read, split, step):
    """Every split that lies one move away."""
    for out in range(len(split)):
        for into in range(len(split)):
            if out != into and split[out] >= step and split[into] + step <= read[into][1]:
                moved = split.copy()
                moved[out] -= step
                moved[into] += step
                yield moved


def _chances(read, split):
    """Array: the chance of finding 0, 1, … over in all strata together."""
    chance = np.ones(1)
    for (size, pool), number in zip(read, split.tolist(), strict=True):
        chance = np.convolve(chance, _hypergeometric(size, pool, number))
    return chance


@lru_cache(maxsize=20_000)
def _hypergeometric(size, pool, number):
    from scipy.stats import hypergeom

    return hypergeom(pool, number, size).pmf(np.arange(size + 1))
