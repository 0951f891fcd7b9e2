"""The pooled loss trend of the keeper's own readings: fitted for the pool, answered for each segment."""

from dataclasses import dataclass

import numpy as np

from fleet.choices import FittedBasis

from ..models import PoolTrend
from ..numeric.calendar import DAYS_A_YEAR, NO_DAY, add_years
from ..numeric.crossings import HORIZON_YEARS
from ..numeric.due import events_cause
from ..numeric.pool_model import FitReadings, PoolModel, fit_pool_model
from ..numeric.segment_trends import Segments, assess_segments
from ..numeric.words import Clock, NoDateReason, TrendFrom

# under the event clock the horizon is set on the day, not on the count
ANY_COUNT = 1e9


# what goes into a fit beside the records
FIT_SETTINGS = ("wear_by_events", "reference_mhz", "reading_uncertainty_db")


@dataclass(frozen=True)
class PoolRecords:
    """Readings that belong in a fit, the days they were taken on, and the segments they are of."""

    segment: np.ndarray
    length_m: np.ndarray
    first_on: np.ndarray
    age_known: np.ndarray
    readings: FitReadings
    day: np.ndarray

    def as_lists(self):
        """All of it as lists of numbers and days, equal where the records are."""
        own = (self.segment, self.length_m, self.first_on, self.age_known, self.day)
        readings = self.readings
        columns = (*own, readings.segment, readings.x, readings.loss_db, readings.as_new)
        return [column.tolist() for column in columns]

    def with_those_of(self, segment_ids, other):
        """These records, with the `other` ones of these segments in place of their own."""
        kept = ~np.isin(self.segment, segment_ids)
        read = kept[self.readings.segment]
        segments = np.concatenate([self.segment[kept], other.segment])
        order = np.argsort(segments)
        named = np.concatenate([self.segment[self.readings.segment[read]], other.segment[other.readings.segment]])
        row = np.searchsorted(segments[order], named)
        by_row = np.argsort(row, kind="stable")

        def of_segments(mine, theirs):
            return np.concatenate([mine[kept], theirs])[order]

        def of_readings(mine, theirs):
            return np.concatenate([mine[read], theirs])[by_row]

        mine, theirs = self.readings, other.readings
        columns = ((mine.x, theirs.x), (mine.loss_db, theirs.loss_db), (mine.as_new, theirs.as_new))
        return PoolRecords(
            segment=segments[order],
            length_m=of_segments(self.length_m, other.length_m),
            first_on=of_segments(self.first_on, other.first_on),
            age_known=of_segments(self.age_known, other.age_known),
            readings=FitReadings(row[by_row], *(of_readings(*pair) for pair in columns)),
            day=of_readings(self.day, other.day),
        )


def fit_trend(records, policy):
    """PoolModel of the records of the whole pool by the keeper's clock."""
    readings = records.readings.of_segments(records.age_known)
    uncertainty_db = policy.value("reading_uncertainty_db")
    return fit_pool_model(readings, records.length_m, clock=clock(policy), instrument_sd_db=uncertainty_db)


def fits_alike(policy, other):
    """Whether the pool is fitted alike under two policies."""
    return all(policy.value(name) == other.value(name) for name in FIT_SETTINGS)


def clock(policy):
    return Clock.EVENTS if policy.value("wear_by_events") else Clock.YEARS


def fit_records(state, wear_clock):
    """PoolRecords of a state: one reading a day, the measured as-new loss at 0 unless a reading of that day stands."""
    segment, first = np.unique(state.fittings.segment, return_index=True)
    first_on = state.fittings.fitted_on[first]
    days = state.by_day
    index = np.searchsorted(segment, days.segment)
    # a doubtful day speaks in the verdict only
    fitted = (index < len(segment)) & ~days.no_signal & ~days.doubtful
    fitted[fitted] &= segment[index[fitted]] == days.segment[fitted]
    row, day, loss_db = index[fitted], days.day[fitted], days.reference_loss_db[fitted]
    replaced = np.zeros(len(segment), bool)
    replaced[row[day == first_on[row]]] = True
    as_new = state.fittings.as_new_loss_db[first]
    given = np.flatnonzero(~np.isnan(as_new) & ~replaced)
    x = _years(first_on[row], day) if wear_clock == Clock.YEARS else _events_by(state, segment[row], day)
    rows = np.concatenate([given, row])
    order = np.argsort(rows, kind="stable")
    return PoolRecords(
        segment=segment,
        length_m=state.fittings.length_m[first],
        first_on=first_on,
        age_known=state.fittings.basis[first] != FittedBasis.NOT_LATER_THAN,
        readings=FitReadings.of(
            rows[order],
            np.concatenate([np.zeros(len(given)), x])[order],
            np.concatenate([as_new[given], loss_db])[order],
            np.concatenate([np.ones(len(given), bool), np.zeros(len(row), bool)])[order],
        ),
        day=np.concatenate([first_on[given], day])[order],
    )


def no_trend_columns(state):
    """The trend's columns where no pool model has been fitted yet."""
    count = len(state.current)
    numbers = ("chance_over", "trend_intercept_db", "trend_rate_db")
    return {
        "trend_due_on": np.full(count, NO_DAY),
        "trend_expected_on": np.full(count, NO_DAY),
        "trend_from": np.full(count, "", dtype=object),
        "trend_no_date_reason": np.full(count, "", dtype=object),
        "trend_readings": np.zeros(count, int),
        **{name: np.full(count, np.nan) for name in (*numbers, *COVARIANCE)},
        "accepted_risk": state.of_place("accepted_risk"),
    }


COVARIANCE = ("trend_c00", "trend_c01", "trend_c11")


def trend_columns(state, model, records=None):
    """Line, chance on the day, early and expected date of each assessed segment under a stored PoolModel.

    `records`: those of the state by the model's clock, where they are at hand.
    """
    if model is None:
        return no_trend_columns(state)
    records = records or fit_records(state, model.clock)
    asked = np.searchsorted(records.segment, state.segment)
    trends = assess_segments(model, _of_asked(records, asked), _segments(state, records, asked, model.clock))
    dates = _Dates(state, records.first_on[asked], model.clock)
    early, expected = dates.of(trends.early), dates.of(trends.expected)
    fitted, reason = trends.lines, _reasons(trends, early, dates)
    return {
        "trend_due_on": np.where(reason == "", early, NO_DAY),
        "trend_expected_on": np.where((reason == "") & ~dates.later(expected), expected, NO_DAY),
        "trend_from": np.select([np.isnan(fitted.rate), trends.own_readings], ["", TrendFrom.OWN], TrendFrom.SIMILAR),
        "trend_no_date_reason": reason,
        "trend_readings": trends.readings,
        "chance_over": trends.chance_over,
        "accepted_risk": state.of_place("accepted_risk"),
        "trend_intercept_db": fitted.intercept,
        "trend_rate_db": fitted.rate,
        "trend_c00": fitted.c00,
        "trend_c01": fitted.c01,
        "trend_c11": fitted.c11,
    }


def stored_model():
    """The PoolModel of the last fit; None before the first."""
    stored = PoolTrend.objects.values_list("model", flat=True).filter(pk=1).first()
    return stored and PoolModel.from_json(stored)


def is_fitted_alone():
    """Whether each segment is fitted alone: there was no pool to borrow from at the last fit."""
    return PoolTrend.objects.filter(pk=1, model__fit=None).exists()


def store_model(model, on, changes):
    """Keep the fit that the next assessments use."""
    PoolTrend.objects.update_or_create(pk=1, defaults={"model": model.as_json(), "fitted_on": on, "changes": changes})


def _of_asked(records, asked):
    wanted = np.full(len(records.segment), -1)
    wanted[asked] = np.arange(len(asked))
    chosen = wanted[records.readings.segment] >= 0
    readings = records.readings
    return FitReadings(
        wanted[readings.segment[chosen]], readings.x[chosen], readings.loss_db[chosen], readings.as_new[chosen]
    )


def _segments(state, records, asked, wear_clock):
    by_years = wear_clock == Clock.YEARS
    first_on = records.first_on[asked]
    now = _years(first_on, state.day) if by_years else _events_by(state, state.segment, np.full(len(asked), state.day))
    return Segments.of(
        records.length_m[asked],
        now,
        limit_db=state.of_place("loss_limit_db"),
        accepted_risk=state.of_place("accepted_risk"),
        horizon=HORIZON_YEARS if by_years else ANY_COUNT,
        age_known=records.age_known[asked],
    )


def _years(first_on, day):
    return (day - first_on).astype(float) / DAYS_A_YEAR


def _events_by(state, segment, day):
    """Events each segment had been through by that day, those before the records begin included."""
    fittings = state.fittings
    first, last = (
        np.searchsorted(fittings.segment, segment, "left"),
        np.searchsorted(fittings.segment, segment, "right"),
    )
    rows = np.repeat(first, last - first) + _running(last - first)
    asked = np.repeat(np.arange(len(segment)), last - first)
    tomorrow = day[asked] + np.timedelta64(1, "D")
    until = np.where(np.isnat(fittings.removed_on[rows]), tomorrow, np.minimum(fittings.removed_on[rows], tomorrow))
    counted = state.logs.counted.sum_between(fittings.mat[rows], fittings.fitted_on[rows], until)
    return (fittings.events_before[first] + np.bincount(asked, counted, minlength=len(segment))).astype(float)


def _running(counts):
    return np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)


class _Dates:
    """Points on the wear clock as days: calendar days, or the start of the event at which the count is reached."""

    def __init__(self, state, first_on, wear_clock):
        self.state, self.first_on, self.by_years = state, first_on, wear_clock == Clock.YEARS

    def of(self, x):
        """Days of clock readings x since first fitted; NaT where x is not finite or the mat stands still."""
        finite = np.isfinite(x)
        steps = np.where(finite, np.minimum(x, 1e8) * (DAYS_A_YEAR if self.by_years else 1), 0)
        count = np.ceil(steps).astype(np.int64)
        if self.by_years:
            day = self.first_on + count.astype("timedelta64[D]")
        else:
            day = np.where(count > 0, self._day_of_event(np.maximum(count, 1)), self.first_on)
        return np.where(finite, day, NO_DAY)

    def _day_of_event(self, count):
        state = self.state
        return events_cause(state.fittings, state.current, state.logs, count, state.day).due_on

    def later(self, day):
        return day > add_years(self.first_on, HORIZON_YEARS)


def _reasons(trends, early, dates):
    reasons = np.array([str(reason or "") for reason in trends.no_date_reason.tolist()], dtype=object)
    if not dates.by_years:
        reasons[(reasons == "") & np.isnat(early)] = NoDateReason.STANDS_STILL.value
        reasons[(reasons == "") & dates.later(early)] = NoDateReason.LATER.value
    return reasons
