"""Bench days crossed with segments, as lme4 1.1.31 fits them: tests/data/crossed/README.md has data and values.

Tolerances are those of that README: a deviance of 1e-6 is a thousandth of a standard error of any parameter.
"""

from functools import cache

import numpy as np
import pytest
from crossed_sets import CROSSED, crossed
from pool_fits import plugged_in, states_at

from inspections.numeric.fit_readings import FitReadings


@cache
def lme4_model(name, *, wander=False):
    """PoolModel of a set at its REML optimum, without settling."""
    segment, day, x, y, length_m = crossed(name)
    readings = FitReadings.of(segment, x, y, day=day)
    with_length = len(CROSSED[name]["fixef"]) == 4
    return plugged_in(readings, length_m, with_length=with_length, settling=False, wander=wander)


@pytest.mark.parametrize("name", CROSSED)
def test_parameters_are_those_of_lme4(name):
    fit, found = lme4_model(name).fit, CROSSED[name]
    assert fit.minus_two_log == pytest.approx(found["REMLcrit"], abs=1e-6)
    assert fit.coefficients == pytest.approx(found["fixef"], abs=1e-5)
    assert fit.standard_errors == pytest.approx(found["se"], abs=1e-5)
    assert fit.deviations == pytest.approx(found["deviations"], rel=1e-4)
    assert (fit.residual_sd, fit.bench_day_sd_db) == pytest.approx((found["sigma"], found["tau"]), rel=1e-4)
    assert not fit.at_boundary


@pytest.mark.parametrize("name", CROSSED)
def test_shifts_of_bench_days_are_those_of_lme4(name):
    days, found = lme4_model(name).days, CROSSED[name]["days"]
    # day 1 of set a has a single reading, which carries the day's variance by itself: no shift of it is kept
    found = {day: shift for day, shift in found.items() if (name, day) != ("a", 1)}
    ours = dict(zip(days.key.tolist(), days.shift_db, strict=True))
    assert ours == pytest.approx(found, abs=1e-5)


@pytest.mark.parametrize("name", CROSSED)
def test_levels_and_rates_of_segments_are_those_of_lme4(name):
    segment, day, x, y, length_m = crossed(name)
    found, readings = CROSSED[name], FitReadings.of(segment, x, y, day=day)
    states = states_at(lme4_model(name), readings, length_m, 0.0)
    level, rate = np.array(found["fixef"]).reshape(2, -1)
    powers = length_m[:, None] ** np.arange(len(level))
    lines = np.column_stack([powers @ level, powers @ rate])
    rows = np.array(list(found["modes"])) - 1
    modes = np.column_stack([states.level, states.rate]) - lines
    assert modes[rows] == pytest.approx(np.array(list(found["modes"].values())), abs=1e-5)


@pytest.mark.parametrize("name", ["a", "c"])
def test_wander_falls_back_to_nothing_where_there_is_none(name):
    # the optimum with wander free is at q = 0 on both sets, with the same value (python.txt)
    fit = lme4_model(name, wander=True).fit
    assert fit.minus_two_log == pytest.approx(CROSSED[name]["REMLcrit"], abs=1e-6)
    assert fit.wander_db == pytest.approx(0, abs=1e-5)
