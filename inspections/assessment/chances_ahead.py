"""How likely each fitted cable is to be over its limit on a day ahead, by the trend of the pool last fitted."""

from dataclasses import replace

import numpy as np

from ..numeric.calendar import DAYS_A_YEAR
from ..numeric.segment_trends import assess_segments
from ..numeric.words import Clock
from .new_days import read_known
from .pool_fits import stored_fit
from .trends import asked_of

_ONE_DAY = np.timedelta64(1, "D")


def chances_over_by(day, on):
    """{segment's key: chance of being over on that day} of the cables assessed on `on` that have one; none of those
    without a trend. Empty where nothing was fitted."""
    fitted = stored_fit()
    if fitted is None:
        return {}
    known = read_known(on, fitted)
    state, (readings, segments) = known.state, asked_of(known.state, known.records, fitted.model.clock)
    then = replace(segments, now=segments.now + _ahead(state, np.datetime64(day, "D"), fitted.model.clock))
    chances = assess_segments(fitted.model, readings, then).chance_over
    pairs = zip(state.segment.tolist(), chances.tolist(), strict=True)
    return {key: chance for key, chance in pairs if not np.isnan(chance)}


def _ahead(state, day, clock):
    """How far the wear clock of each assessed segment goes on from today to that day."""
    if clock == Clock.YEARS:
        return np.full(len(state.segment), (day - state.day) / _ONE_DAY / DAYS_A_YEAR)
    return events_until(state, day)


def events_until(state, day):
    """Events that each assessed segment is expected to go to from today on: those planned, and then as its mat usually
    goes, as its due date by events has them (it may be no whole number)."""
    mat, logs, today = state.mat, state.logs, state.day
    planned = logs.planned.sum_between(mat, state.fittings.fitted_on[state.current], np.full(len(mat), day + _ONE_DAY))
    a_year = logs.counted.of_last_year(mat, today)
    last = np.fmax(logs.planned.last_start(mat), today)
    rest_years = np.maximum((day - last) / _ONE_DAY, 0) / 365
    return planned + a_year * rest_years
