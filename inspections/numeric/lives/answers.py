"""What a group of lives tells: the observed curve with its band, the Weibull one, and where both end."""

from dataclasses import dataclass

import numpy as np

from .bounds import ENOUGH_FAILURES, LowerBound, few_at_most, lower_bound
from .resampling import FEWEST_CLUSTERS, coarse, drawn_kinds, interval
from .turnbull import Turnbull, fit_turnbull, resampled_shares
from .weibull import Weibull, fit_weibull, resampled_weibulls


@dataclass(frozen=True)
class AgeAt:
    """The age by which a share is over, and its interval by resampling; NaN where it has none."""

    age: float
    low: float
    high: float


@dataclass(frozen=True)
class Curve:
    """Arrays by age: the least and most that can be over by what was observed, and a pointwise band about both."""

    age: np.ndarray
    least: np.ndarray
    most: np.ndarray
    low: np.ndarray
    high: np.ndarray

    def at(self, age):
        """(least, most, low, high) at one of its ages."""
        row = int(np.searchsorted(self.age, age))
        return tuple(float(column[row]) for column in (self.least, self.most, self.low, self.high))


@dataclass(frozen=True)
class GroupLife:
    """`lives`, `failures`, `clusters`: how many. `watched_until`: no life was seen at a greater age.

    With few failures (`is_settled` False) only `bound` says something; else `curve` on the ages that were asked,
    `weibull`, and `ages_at`: {share: AgeAt}. `bound` is None where nothing was seen within.
    """

    lives: int
    failures: int
    clusters: int
    watched_until: float
    observed: Turnbull | None
    bound: LowerBound | None
    curve: Curve | None = None
    weibull: Weibull | None = None
    ages_at: dict | None = None
    shape_interval: tuple[float, float] = (np.nan, np.nan)
    scale_interval: tuple[float, float] = (np.nan, np.nan)

    @property
    def is_settled(self):
        return self.curve is not None


def group_life(lives, ages, shares):
    """GroupLife of Lives: its curve at these ages, and the ages at which these shares are over."""
    rough = coarse(lives)
    known = {
        "lives": len(lives),
        "failures": lives.failures,
        "clusters": len(np.unique(lives.cluster)),
        "watched_until": lives.watched_until,
        "observed": fit_turnbull(rough) if len(lives) else None,
        "bound": lower_bound(lives) if len(lives) else None,
    }
    if lives.failures < ENOUGH_FAILURES:
        return GroupLife(**known)
    ages = np.asarray(ages, float)
    drawn = drawn_kinds(rough) if known["clusters"] >= FEWEST_CLUSTERS else None
    curve = _curve(lives, known["observed"], drawn, ages)
    return GroupLife(**known, **_weibull_answers(lives, drawn, shares), curve=curve)


def _curve(lives, observed, drawn, ages):
    least, most = observed.share_over(ages), observed.most_over(ages)
    if drawn is None:
        none = np.full(len(ages), np.nan)
        return Curve(ages, least, most, none, none)
    drawn_least, drawn_most = resampled_shares(drawn[0], observed, drawn[1], ages)
    high = np.maximum(interval(drawn_most)[1], few_at_most(lives, most, ages))
    return Curve(ages, least, most, interval(drawn_least)[0], high)


def _weibull_answers(lives, drawn, shares):
    fitted = fit_weibull(lives)
    if not fitted.settled:
        return {}
    if drawn is None:
        return {"weibull": fitted, "ages_at": {share: _age_at(fitted, share, np.nan, np.nan) for share in shares}}
    others = Weibull(*resampled_weibulls(drawn[0], fitted, drawn[1]))
    return {
        "weibull": fitted,
        "ages_at": {share: _age_at(fitted, share, *interval(others.age_at(share))) for share in shares},
        "shape_interval": interval(others.shape),
        "scale_interval": interval(others.scale),
    }


def _age_at(fitted, share, low, high):
    return AgeAt(float(fitted.age_at(share)), float(low), float(high))
