"""How long cables last as the trend says, and whether that agrees with how they were seen to last."""

import pickle
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from hashlib import blake2b

import numpy as np

from ..assessment.policy_in_force import Policy
from ..assessment.pool_fits import FIT_SETTINGS, PoolFitted, clock, fit_trend, stored_fit
from ..assessment.services import ensure_assessed
from ..assessment.trend_records import PoolRecords, fit_records
from ..numeric.lives.agreement import Agreement, agreement
from ..numeric.lives.answers import AgeAt
from ..numeric.lives.modelled import Kinds, drawn_lives, fresh_lives
from ..numeric.lives.records import Lives
from ..numeric.lives.resampling import interval
from ..numeric.pool_model import PoolModel
from ..numeric.variance_points import with_variance_points
from ..numeric.words import Clock
from .cable_services import Cables, limits_db
from .kept_services import AlikeByContent

# of a drawing, lengths are told apart by so much
LENGTH_STEP_M = 0.1
# models kept by what they were made of: those of both clocks on a few days
KEPT = 8


def model_of_day(state, on, today, wear_clock=None, clock_known=None):
    """PoolModel of the records of a day, `state` being its WearState, by the keeper's clock or by `wear_clock`; with
    points over its variance parameters, however large the pool.

    `clock_known`: mask over the state's cables, by key; none but these are taken where events are counted, for what a
    cable went through before anybody wrote it down is not wear of later events. By the keeper's clock today it is the
    fit that is stored; every other one is fitted here. What is asked again of the same records is kept.
    """
    policy, asked, fitted = state.policy, wear_clock or clock(state.policy), None
    all_known = asked == Clock.YEARS or clock_known is None or bool(clock_known.all())
    if asked == clock(policy) and on == today and all_known:
        ensure_assessed(today)
        fitted = stored_fit()
        if fitted is None or fitted.model.points is None:
            return fitted and fitted.model
    policy = policy.with_values({("wear_by_events", None, None, None): float(asked == Clock.EVENTS)})
    records = fit_records(state, asked)
    if not all_known:
        records = replace(records, age_known=records.age_known & clock_known)
    return _modelled(_Asked(records, policy, fitted))


@dataclass(frozen=True, eq=False)
class _Asked(AlikeByContent):
    """What a model is made of: records, the policy, and the fit where there is one already; alike by their content."""

    records: PoolRecords
    policy: Policy
    fitted: PoolFitted | None

    @cached_property
    def content(self):
        settings = [self.policy.value(name) for name in FIT_SETTINGS]
        return blake2b(pickle.dumps((self.records, settings, self.fitted and self.fitted.model))).digest()


@lru_cache(maxsize=KEPT)
def _modelled(asked):
    records, policy, fitted = asked.records, asked.policy, asked.fitted
    if fitted:
        records = records.leaving_out_named(fitted.left_out)
    else:
        fitted, records = fit_trend(records, policy, start=stored_fit())
    return with_variance_points(
        fitted.model,
        records.readings.take(records.is_fitted & ~records.readings.left_out),
        records.length_m,
        instrument_sd_db=policy.value("reading_uncertainty_db"),
        pieces=records.pieces,
    )


@dataclass(frozen=True)
class ModelledCurve:
    """Share over of fresh cables by age (arrays) as the trend says, and the same by what else the pool's parameters may
    be: `drawn` (draws, ages)."""

    age: np.ndarray
    share: np.ndarray
    drawn: np.ndarray

    @property
    def low(self):
        """Of the 90 % interval at each age."""
        return interval(self.drawn)[0]

    @property
    def high(self):
        return interval(self.drawn)[1]

    def at(self, age):
        """(share over, low, high) at an age within the curve."""
        drawn = np.array([np.interp(age, self.age, shares) for shares in self.drawn])
        return (float(np.interp(age, self.age, self.share)), *map(float, interval(drawn)))

    def age_at(self, share):
        """AgeAt of a share; inf where it is not reached within the curve."""
        drawn = np.array([_reached(share, self.age, shares) for shares in self.drawn])
        return AgeAt(_reached(share, self.age, self.share), *map(float, interval(drawn)))


def _reached(share, age, shares):
    return float(np.interp(share, shares, age)) if share <= shares[-1] else np.inf


@dataclass(frozen=True)
class KindCurves:
    """Share over by `age` of each kind of fresh cable there is: `whole` (ages, kinds), `drawn` (draws, ages, kinds).
    `kind`: of each cable."""

    age: np.ndarray
    kind: np.ndarray
    whole: np.ndarray
    drawn: np.ndarray

    def of(self, rows):
        """ModelledCurve of fresh cables such as those of these rows, at least one."""
        share = np.bincount(self.kind[rows], minlength=self.whole.shape[1]) / len(rows)
        return ModelledCurve(self.age, self.whole @ share, self.drawn @ share)


def kind_curves(model: PoolModel, length_m, limit_db, ages, *, as_read=False):
    """KindCurves of fresh cables with these lengths and limits (arrays, one row a cable); None without a fit, or where
    the wear of any of them falls. `as_read`: over by what an instrument shows."""
    if model is None or model.points is None or not len(length_m):
        return None
    rounded = np.maximum(np.round(length_m / LENGTH_STEP_M), 1) * LENGTH_STEP_M
    pairs, kind = np.unique(np.stack([rounded, limit_db]), axis=1, return_inverse=True)
    kinds, how = Kinds.of(*pairs), {"by_years": model.clock == Clock.YEARS, "as_read": as_read}
    whole = fresh_lives(model.points, kinds, **how)
    if whole.falls.any():
        return None
    drawn = np.nan_to_num(drawn_lives(model.points, kinds, **how).shares_apart(ages))
    return KindCurves(np.asarray(ages, float), kind.ravel(), whole.share_over(ages), drawn)


def agrees(model: PoolModel, cables: Cables, lives: Lives, row) -> Agreement | None:
    """Agreement of lives by the model's clock with its curve for the length and limit of each; None without a fit.

    `row`: of the cables of these lives. Where only sure verdicts make lives, cables near the limit are missing, and a
    right curve is refused for it.
    """
    if model is None or model.points is None:
        return None
    kinds = Kinds.of(cables.length_m[row], limits_db(cables)[row])
    fresh = fresh_lives(model.points, kinds, by_years=model.clock == Clock.YEARS, as_read=True)
    ends = np.stack([lives.entry, lives.low, np.where(lives.is_over, lives.high, 0.0)])
    at_entry, at_low, at_high = fresh.share_over(ends)
    return agreement(lives, at_entry, at_low, np.where(lives.is_over, at_high, 1.0))
