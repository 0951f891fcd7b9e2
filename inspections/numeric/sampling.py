"""How many to draw at random, and what a share found in a sample says of all.

Sizes are for a claim of the kind *fewer than this share are over*, shown by a sample in which none, or so many, are.
"""

from math import ceil, log

import numpy as np

# beyond any pool: who asks for more has mistyped the share
LARGEST_SAMPLE = 1_000_000


def success_run_size(share, confidence):
    """n = ⌈ln(1 − C)/ln(1 − share)⌉ drawn without one over show, with that confidence, that fewer than `share` of any
    number, however large, are over (success run, zero failures)."""
    # a quotient that is whole but for rounding is that whole number
    return max(1, ceil(round(log(1 - confidence) / log(1 - share), 9)))


def binomial_size(share, confidence, allowed=0):
    """The smallest n with P(at most `allowed` over | `share` are over) ≤ 1 − C, of any number however large."""
    from scipy.stats import binom

    return _smallest(lambda n: binom.cdf(allowed, n, share) <= 1 - confidence, allowed + 1, LARGEST_SAMPLE)


def hypergeometric_size(pool, over, confidence, allowed=0):
    """The smallest n with P(at most `allowed` over | `over` of the `pool` are) ≤ 1 − C, drawn without putting back.

    The whole pool where no fewer will do: `over` not above `allowed` can never be told apart.
    """
    return _smallest(lambda n: chance_of_at_most(allowed, n, over, pool) <= 1 - confidence, 1, pool)


def chance_of_at_most(allowed, size, over, pool):
    """P(at most `allowed` are over in a sample of `size` | `over` of the `pool` are): hypergeometric."""
    from scipy.stats import hypergeom

    return float(hypergeom.cdf(allowed, pool, over, size))


def _smallest(enough, lowest, highest):
    """The smallest whole number that is enough, by halving: once enough, any larger one is; else the highest."""
    while lowest < highest:
        middle = (lowest + highest) // 2
        lowest, highest = (lowest, middle) if enough(middle) else (middle + 1, highest)
    return lowest


def clopper_pearson(over, size, confidence=0.95, most_over=None):
    """(low, high): exact two-sided interval of the share over, of any number however large (Clopper and Pearson 1934).

    `most_over`: as many are over where all undecided ones are; the upper end is theirs. None of none: (0, 1).
    """
    from scipy.stats import beta

    tail, most_over = (1 - confidence) / 2, over if most_over is None else most_over
    low = 0.0 if over == 0 else float(beta.ppf(tail, over, size - over + 1))
    high = 1.0 if most_over == size else float(beta.ppf(1 - tail, most_over + 1, size - most_over))
    return low, high


def hypergeometric_interval(over, size, pool, confidence=0.95, most_over=None):
    """(low, high): how many of the `pool` are over, by every number that an exact two-sided test of the hypergeometric
    chance does not refuse. `most_over` as in `clopper_pearson`. Ends are whole numbers; a whole pool read leaves none
    open."""
    from scipy.stats import hypergeom

    tail, most_over = (1 - confidence) / 2, over if most_over is None else most_over
    possible = np.arange(over, pool - (size - most_over) + 1)
    as_many = hypergeom.sf(over - 1, pool, possible, size) > tail
    as_few = hypergeom.cdf(most_over, pool, possible, size) > tail
    return int(possible[as_many][0]), int(possible[as_few][-1])
