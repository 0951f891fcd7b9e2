"""The invented pool of tests/data/pool_trend against its answers, which were computed apart from the project.

Its README in tests/data/pool_trend_expected explains columns and tolerances: one dense likelihood of all readings,
with bench days, wander and settling. Readings are built with pandas, straight from the files and the rules.
"""

import json
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pandas as pd
import pytest
from case_readings import DATA, read_case
from pool_fits import fit_and_assess

from inspections.numeric.lives.limits_by_length import limits_of_kinds
from inspections.numeric.lives.modelled import Kinds
from inspections.numeric.pool_model import PoolModel
from inspections.numeric.segment_trends import assess_segments

EXPECTED = pd.read_csv(DATA / "pool_trend_expected" / "expected.csv").set_index("segment")
EXPECTED_TREND = json.loads((DATA / "pool_trend_expected" / "expected_trend.json").read_text())


@pytest.fixture(scope="module")
def case():
    read = read_case("pool_trend")
    model, trends = fit_and_assess(read.fit_readings, read.asked)
    rows = np.array([read.serials.index(serial) for serial in EXPECTED.index])
    return {"read": read, "model": model, "trends": trends, "rows": rows, "fitted_on": read.fitted_on[EXPECTED.index]}


def test_pooled_parameters_agree(case):
    model, fit = case["model"], case["model"].fit
    counted = EXPECTED_TREND["segments"], EXPECTED_TREND["readings"], EXPECTED_TREND["bench_days"]
    assert (model.segments, model.readings, fit.bench_days) == counted
    assert fit.minus_two_log == pytest.approx(EXPECTED_TREND["minus_two_log_reml"], abs=0.02)
    assert fit.intercept_db == pytest.approx(EXPECTED_TREND["intercept_db"], abs=5e-4)
    assert fit.rate_db == pytest.approx(EXPECTED_TREND["rate_db_per_year"], abs=5e-4)
    sds = (*fit.deviations[:2], fit.residual_sd, fit.bench_day_sd_db, fit.wander_db)
    names = ("sd_intercept_db", "sd_rate_db_per_year", "residual_sd_db", "bench_day_sd_db", "wander_db")
    assert sds == pytest.approx([EXPECTED_TREND[name] for name in names], abs=5e-4)
    assert fit.deviations[2] == pytest.approx(EXPECTED_TREND["correlation"], abs=0.02)
    assert fit.settling_db == pytest.approx(EXPECTED_TREND["settling_db"], abs=0.002)
    assert not fit.at_boundary


def test_readings_in_the_fit_and_whose_they_are_agree(case):
    trends, rows = case["trends"], case["rows"]
    assert trends.readings[rows].tolist() == EXPECTED.readings_in_fit.tolist()
    ours = np.where(trends.own_readings, "own readings", "similar cables")[rows]
    assert ours.tolist() == EXPECTED.trend_from.tolist()


@pytest.mark.parametrize(
    ("column", "tolerance"),
    [("p_falling", 0.003), ("level_db", 0.002), ("rate_db_per_year", 0.002), ("chance_over", 0.004)],
)
def test_each_segment_agrees(case, column, tolerance):
    trends = case["trends"]
    ours = {
        "p_falling": trends.falling_chance,
        "level_db": trends.states.level,
        "rate_db_per_year": trends.states.rate,
        "chance_over": trends.chance_over,
    }[column]
    assert ours[case["rows"]] == pytest.approx(EXPECTED[column].to_numpy(float), abs=tolerance)


def dates_of(case, x):
    """First fitted + ceil(365.25 t) days; None where there is none."""
    return [
        None if not np.isfinite(t) else fitted + timedelta(days=int(np.ceil(365.25 * t - 1e-6)))
        for t, fitted in zip(x[case["rows"]], case["fitted_on"], strict=True)
    ]


def test_last_readings_lie_on_the_days_agreed(case):
    ours = np.array(dates_of(case, case["trends"].x_last), object)
    expected = pd.to_datetime(EXPECTED.last_reading_on)
    # without a reading the state is that when fitted
    expected = np.where(expected.isna(), case["fitted_on"], expected)
    assert [pd.Timestamp(day) for day in ours] == [pd.Timestamp(day) for day in expected]


@pytest.mark.parametrize(("name", "column"), [("early", "trend_due_on"), ("expected", "trend_expected_on")])
def test_dates_agree(case, name, column):
    ours = dates_of(case, getattr(case["trends"], name))
    off = []
    for day, expected, fitted in zip(ours, EXPECTED[column], case["fitted_on"], strict=True):
        assert (day is None) == pd.isna(expected)
        if day is None:
            continue
        expected, reached_by = pd.Timestamp(str(expected).removeprefix("by ")), str(expected).startswith("by ")
        allowed = max(5, 0.003 * (expected - fitted).days)
        late = (day - expected).days
        # "by": reached on that day or before, and when, nobody computed
        off.append((late if reached_by else abs(late)) / allowed)
    assert max(off) <= 1


def test_age_limits_are_the_early_dates_of_cables_that_were_never_read(case):
    """A cable without any reading is a fresh one of its length."""
    never = EXPECTED[EXPECTED.readings_in_fit == 0]
    days = (pd.to_datetime(never.trend_due_on) - never.index.map(case["fitted_on"])).dt.days
    limits = limits_of_kinds(case["model"].points, Kinds.of(never.length_m.to_numpy(float)), 3.0)
    assert never.length_m.nunique() == 6
    # the tolerance of the answers, and the day to which they are rounded up
    assert limits.age * 365.25 == pytest.approx(days.to_numpy(float), abs=6, rel=0.003)
    assert ((limits.low <= limits.age) & (limits.age <= limits.high)).all()


def test_reasons_for_no_date_agree(case):
    ours = [None if reason is None else str(reason) for reason in case["trends"].no_date_reason[case["rows"]]]
    assert ours == [None if pd.isna(reason) else reason for reason in EXPECTED.no_date_reason]


def test_one_segment_is_answered_alike_from_the_stored_model(case):
    model = PoolModel.from_json(json.loads(json.dumps(case["model"].as_json())))
    trends, readings = case["trends"], case["read"].fit_readings
    for row in case["rows"][[2, 50, 101]]:
        alone = replace(readings.take(readings.segment == row), segment=np.zeros(trends.readings[row], int))
        one = assess_segments(model, alone, case["read"].asked.take([row]))
        for name in ("chance_over", "early", "expected", "falling_chance"):
            assert getattr(one, name)[0] == pytest.approx(getattr(trends, name)[row], rel=1e-9, nan_ok=True)
        assert one.no_date_reason[0] == trends.no_date_reason[row]
