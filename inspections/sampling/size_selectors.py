"""How many mats a sample needs, with every number that its formula has."""

from dataclasses import dataclass
from math import ceil

from ..choices import SizeRule
from ..numeric.sampling import chance_of_at_most, hypergeometric_size, success_run_size


@dataclass(frozen=True)
class SizePlan:
    """`size` of `pool` mats, by a SizeRule. `needed`: what the formula asks for, which may be more than there are.

    Of *this pool*: with `over` or more of them over, a sample of that size would hold none with the chance `chance`
    at most; one mat fewer with `chance_before`. `share`, `confidence`: as parts of one; None where the size was typed.
    """

    rule: str
    pool: int
    size: int
    needed: int
    share: float | None = None
    confidence: float | None = None
    over: int | None = None
    chance: float | None = None
    chance_before: float | None = None

    @property
    def sound(self):
        return 1 - self.share

    @property
    def risk(self):
        return 1 - self.confidence

    @property
    def is_whole(self):
        return self.size == self.pool

    @property
    def is_cut(self):
        return self.needed > self.pool


def plan_size(rule, pool, *, share=None, confidence=None, size=None):
    """The SizePlan; `size`: what was typed, for that rule."""
    if rule == SizeRule.TYPED:
        return SizePlan(rule, pool, min(size, pool), size)
    if rule == SizeRule.SUCCESS_RUN:
        needed = success_run_size(share, confidence)
        return SizePlan(rule, pool, min(needed, pool), needed, share, confidence)
    # of so many over the sample is to find one: where it finds none, fewer are, which is less than that share
    over = min(pool, max(1, ceil(round(share * pool, 9))))
    needed = hypergeometric_size(pool, over, confidence)
    chances = [chance_of_at_most(0, number, over, pool) for number in (needed, needed - 1)]
    return SizePlan(rule, pool, needed, needed, share, confidence, over, *chances)


def plan_of(sample):
    """The SizePlan that a sample was drawn by, worked out again from what is kept of it."""
    given = {"share": sample.share, "confidence": sample.confidence, "size": sample.size}
    return plan_size(sample.rule, sample.frame_size, **given)
