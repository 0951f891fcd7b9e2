"""What few failures can say: not how long things last, but how long at least."""

from dataclasses import dataclass

import numpy as np

# fewer tell no shape: its estimate is then too high more often than not
ENOUGH_FAILURES = 10
# the shapes at which a bound is looked at, from wear by chance alone to wear that comes all at one age; our choice
SHAPES = (1.0, 1.5, 2.0, 3.0)
# in place of none that is known to be within
TINY = 1e-9


@dataclass(frozen=True)
class LowerBound:
    """`scale`: the least of each of SHAPES; `confidence`: how sure each of its answers is, at the worst of them."""

    scale: tuple[float, ...]
    confidence: float

    def survival(self, age):
        """At least that share is still within at that age."""
        return min(np.exp(-((age / scale) ** shape)) for shape, scale in zip(SHAPES, self.scale, strict=True))

    def share_over(self, age):
        """At most that share is over by that age."""
        return 1 - self.survival(age)

    def age_at(self, share):
        """The share over is reached at that age, or later."""
        return min(scale * (-np.log1p(-share)) ** (1 / shape) for shape, scale in zip(SHAPES, self.scale, strict=True))


def lower_bound(lives, confidence=0.95):
    """LowerBound of Lives, or None where none was ever seen within.

    What was over counts as watched until its last pass alone, which can only shorten the answer.
    """
    exposure = {shape: float((lives.low**shape - lives.entry**shape).sum()) for shape in SHAPES}
    if min(exposure.values()) <= 0:
        return None
    scale = (scale_at_least(exposure[shape], lives.failures, shape, confidence) for shape in SHAPES)
    return LowerBound(tuple(scale), confidence)


def few_at_most(lives, share, ages, confidence=0.95):
    """At most that share of Lives is over by each of these ages (ages,), where `share` (ages,) is estimated: the upper
    limit of Clopper & Pearson (1934) as if of all whose state at that age is known so many were over.

    Lives drawn anew cannot tell of what none of them saw: where few are over, or none, their band is too narrow.
    """
    from scipy.special import betaincinv

    known = (lives.entry <= ages[:, None]) & ((lives.low >= ages[:, None]) | (lives.high <= ages[:, None]))
    count = known.sum(axis=1)
    over = np.minimum(share, 1) * count
    most = betaincinv(over + 1, np.maximum(count - over, TINY), confidence)
    return np.where(ages > 0, most, 0.0)


def scale_at_least(exposure, failures, shape, confidence):
    """Lower bound of a Weibull scale whose shape is known, from Σ(t^shape − entry^shape) and the number of failures:
    (2 Σ / χ²(C; 2r + 2))^(1/shape) (Nelson 1985, from memory; of no failures it is the usual bound)."""
    from scipy.special import gammaincinv

    # χ²(C; 2r + 2)/2 is the quantile of a gamma distribution of r + 1: at most so many failures were to be expected
    return (exposure / float(gammaincinv(failures + 1, confidence))) ** (1 / shape)
