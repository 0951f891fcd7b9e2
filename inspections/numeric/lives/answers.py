"""What a group of lives tells: the observed curve with its band, the Weibull one, and where both end."""

from dataclasses import dataclass

import numpy as np

from .bounds import ENOUGH_FAILURES, LowerBound, lower_bound
from .resampling import FEWEST_CLUSTERS, cluster_weights, interval
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
    known = {
        "lives": len(lives),
        "failures": lives.failures,
        "clusters": len(np.unique(lives.cluster)),
        "watched_until": lives.watched_until,
        "observed": fit_turnbull(lives) if len(lives) else None,
        "bound": lower_bound(lives) if len(lives) else None,
    }
    if lives.failures < ENOUGH_FAILURES:
        return GroupLife(**known)
    ages = np.asarray(ages, float)
    weights = cluster_weights(lives.cluster) if known["clusters"] >= FEWEST_CLUSTERS else None
    return GroupLife(**known, **_weibull_answers(lives, weights, shares), curve=_curve(lives, known, weights, ages))


def _curve(lives, known, weights, ages):
    observed = known["observed"]
    least, most = observed.share_over(ages), observed.most_over(ages)
    if weights is None:
        none = np.full(len(ages), np.nan)
        return Curve(ages, least, most, none, none)
    drawn_least, drawn_most = resampled_shares(lives, observed, weights, ages)
    return Curve(ages, least, most, interval(drawn_least)[0], interval(drawn_most)[1])


def _weibull_answers(lives, weights, shares):
    fitted = fit_weibull(lives)
    if not fitted.settled:
        return {}
    if weights is None:
        return {
            "weibull": fitted,
            "ages_at": {share: AgeAt(float(fitted.age_at(share)), np.nan, np.nan) for share in shares},
        }
    drawn = Weibull(*resampled_weibulls(lives, fitted, weights))
    ages_at = {
        share: AgeAt(float(fitted.age_at(share)), *map(float, interval(drawn.age_at(share)))) for share in shares
    }
    intervals = {"shape_interval": interval(drawn.shape), "scale_interval": interval(drawn.scale)}
    return {"weibull": fitted, "ages_at": ages_at, **intervals}
