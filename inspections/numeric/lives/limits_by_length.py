"""The largest age of each kind of cable at which its chance of being over stays at the accepted risk, and what today's
limit does in its place."""

from dataclasses import dataclass

import numpy as np

from ..crossings import HORIZON_YEARS
from .modelled import drawn_lives, fresh_lives
from .resampling import interval

# under the clock of events: at two or three a week as long as the horizon of years
HORIZON_EVENTS = 5_000
# a life is integrated to where all but these are over, and beyond
NEARLY_ALL = 0.999
NODES = 40


@dataclass(frozen=True)
class KindLimits:
    """Arrays (kinds,) on the model's clock. `age`: reaches the accepted risk; inf not within the horizon, nan where
    wear falls; `low`, `high`: its 90 % interval by what the pool's parameters may be, as far as the fit knows. The age
    takes that into account, too, so that where little is known it can lie before most of what they may be: the
    interval then reaches to it.

    Of today's limit, nan where there is none: `today_share_over`, the share over before it, with its interval
    `today_low`, `today_high`; `today_life_left`, the share of life until over, counted to the horizon, that lies
    beyond it and is thrown away.
    """

    age: np.ndarray
    low: np.ndarray
    high: np.ndarray
    today_share_over: np.ndarray
    today_low: np.ndarray
    today_high: np.ndarray
    today_life_left: np.ndarray


def limits_of_kinds(points, kinds, today, *, by_years=True):
    """KindLimits of Kinds under PoolPoints; `today`: the limit in force of each, 0 none."""
    horizon = HORIZON_YEARS if by_years else HORIZON_EVENTS
    whole, drawn = (make(points, kinds, by_years=by_years) for make in (fresh_lives, drawn_lives))
    low, high = interval(drawn.ages_apart(kinds.accepted_risk, horizon))
    today = np.broadcast_to(np.asarray(today, float), len(kinds))
    age = whole.ages_at(kinds.accepted_risk, horizon)
    is_set, none = (today > 0) & ~whole.falls, np.full(len(kinds), np.nan)
    drawn_at_today = interval(drawn.shares_apart(today[None])[:, 0])
    over = np.where(is_set, whole.share_over(today[None])[0], none)
    return KindLimits(
        age=age,
        low=np.where(whole.falls, np.nan, np.minimum(low, age)),
        high=np.where(whole.falls, np.nan, np.maximum(high, age)),
        today_share_over=over,
        today_low=np.where(is_set, drawn_at_today[0], none),
        today_high=np.where(is_set, drawn_at_today[1], none),
        today_life_left=np.where(is_set, life_left(whole, today, horizon), none),
    )


def life_left(lives, limit, horizon):
    """Share of the life of FreshLives until over, or to `horizon`, that lies beyond a limit (kinds,)."""
    limit = np.minimum(limit, horizon)
    nearly_all = np.maximum(_reached_by_nearly_all(lives, horizon), limit)
    before = _lived(lives, np.zeros(lives.kinds), limit)
    beyond = _lived(lives, limit, nearly_all) + _lived(lives, nearly_all, np.full(lives.kinds, float(horizon)))
    with np.errstate(invalid="ignore"):
        return np.where(before + beyond > 0, beyond / (before + beyond), 0.0)


def _reached_by_nearly_all(lives, horizon):
    """Doubled from a hundredth of the horizon on: an edge near enough to where the curve ends."""
    ages = np.minimum(horizon / 128 * 2.0 ** np.arange(8), horizon)
    reached = np.nan_to_num(lives.share_over(ages)) >= NEARLY_ALL
    return np.where(reached.any(axis=0), ages[reached.argmax(axis=0)], horizon)


def _lived(lives, start, end):
    """Mean time that cables are within from `start` to `end`, by Gauss-Legendre: (kinds,)."""
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    ages = start + (end - start) * (nodes[:, None] + 1) / 2
    within = 1 - np.nan_to_num(lives.share_over(ages))
    return (end - start) / 2 * (weights @ within)
