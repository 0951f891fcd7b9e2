"""The pooled loss trend of the keeper's own readings, answered for each segment."""

import numpy as np

from ..models.assessments import READINGS_OF_A_RISE
from ..numeric.calendar import DAYS_A_YEAR, NO_DAY, add_years
from ..numeric.crossings import HORIZON_YEARS
from ..numeric.due import events_cause
from ..numeric.segment_trends import Segments, assess_segments
from ..numeric.words import Clock, NoDateReason, TrendFrom
from .trend_records import events_by, years_since

# under the event clock the horizon is set on the day, not on the count
ANY_COUNT = 1e9
COVARIANCE = ("trend_c00", "trend_c01", "trend_c11")


def no_trend_columns(state):
    """The trend's columns where no pool model has been fitted yet."""
    count = len(state.current)
    numbers = ("chance_over", "trend_departure", "trend_level_db", "trend_rate_db")
    return {
        "trend_due_on": np.full(count, NO_DAY),
        "trend_expected_on": np.full(count, NO_DAY),
        "trend_from": np.full(count, "", dtype=object),
        "trend_no_date_reason": np.full(count, "", dtype=object),
        "trend_readings": np.zeros(count, int),
        "trend_level_on": np.full(count, NO_DAY),
        **{name: np.full(count, np.nan) for name in (*numbers, *COVARIANCE)},
        "accepted_risk": state.of_place("accepted_risk"),
    }


def trend_columns(state, model, records):
    """State at its last reading, chance on the day, early and expected date of each assessed segment under a PoolModel.

    `records`: PoolRecords of the state by the model's clock, with what the fit left out and the shifts of new days.
    """
    asked = _asked(state, records)
    readings, day = records.of_rows(asked)
    trends = assess_segments(model, readings, _segments(state, records, asked, model.clock))
    dates = _Dates(state, records.first_on[asked], model.clock)
    early, expected = dates.of(trends.early), dates.of(trends.expected)
    at_last, reason = trends.states, _reasons(trends, early, dates)
    return {
        "trend_due_on": np.where(reason == "", early, NO_DAY),
        "trend_expected_on": np.where((reason == "") & ~dates.later(expected), expected, NO_DAY),
        "trend_from": np.select([np.isnan(at_last.rate), trends.own_readings], ["", TrendFrom.OWN], TrendFrom.SIMILAR),
        "trend_no_date_reason": reason,
        "trend_readings": trends.readings,
        "trend_departure": _departure(trends, readings),
        "chance_over": trends.chance_over,
        "accepted_risk": state.of_place("accepted_risk"),
        "trend_level_on": np.where(np.isnan(at_last.level), NO_DAY, _last_days(readings, day, len(asked))),
        "trend_level_db": at_last.level,
        "trend_rate_db": at_last.rate,
        "trend_c00": at_last.c00,
        "trend_c01": at_last.c01,
        "trend_c11": at_last.c11,
    }


def asked_of(state, records, wear_clock):
    """(readings of the assessed segments, Segments) as the trend answers for them today."""
    asked = _asked(state, records)
    return records.of_rows(asked)[0], _segments(state, records, asked, wear_clock)


def _asked(state, records):
    return np.searchsorted(records.segment, state.segment)


def _departure(trends, readings):
    """Of the newest reading, where there is another one that it could depart from."""
    read = np.bincount(readings.segment, minlength=len(trends.departure))
    return np.where(read >= READINGS_OF_A_RISE, trends.departure, np.nan)


def _last_days(readings, day, count):
    """The day of the last reading in the fit of each segment; NaT without one."""
    last, used = np.full(count, NO_DAY), ~readings.left_out
    # the rows of a segment are in order of time: the last one stays
    last[readings.segment[used]] = day[used]
    return last


def _segments(state, records, asked, wear_clock):
    by_years = wear_clock == Clock.YEARS
    first_on, today = records.first_on[asked], np.full(len(asked), state.day)
    return Segments.of(
        records.length_m[asked],
        years_since(first_on, today) if by_years else events_by(state, state.segment, today),
        limit_db=state.of_place("loss_limit_db"),
        accepted_risk=state.of_place("accepted_risk"),
        horizon=HORIZON_YEARS if by_years else ANY_COUNT,
        age_known=records.age_known[asked],
    )


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
