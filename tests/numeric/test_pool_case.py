"""The invented pool of tests/data/pool against its answers, which were computed apart from the project.

Its README in tests/data/pool_expected explains columns and tolerances: dense REML block by block, bivariate normal
for the rise. Readings are built here with pandas, straight from the files and the rules, not through the app.
"""

import json
from datetime import timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pool_fits import fit_and_assess

from inspections.numeric.pool_model import FitReadings, PoolModel
from inspections.numeric.segment_trends import Segments, assess_segments

DATA = Path(__file__).parents[1] / "data"
ON = pd.Timestamp(2026, 9, 30)


def table(name):
    return pd.read_csv(DATA / "pool" / f"{name}.csv")


def reference_losses(rows):
    """loss sqrt(f_ref / f) / (1 + 0.002 (T - 20)), 20 degrees where not given; comparable only within 860-960 MHz."""
    mhz, temperature_c = rows.frequency_mhz.fillna(900.0), rows.temperature_c.fillna(20.0)
    loss_db = pd.to_numeric(rows.loss_db, errors="coerce")
    brought = loss_db * np.sqrt(900 / mhz) / (1 + 0.002 * (temperature_c - 20))
    return brought.where(mhz.between(860, 960))


def day_readings():
    """One reading per segment and day: the median of those after cleaning where there is one, else of all."""
    rows = table("measurements")
    rows = rows[rows.voided_on.isna()].copy()
    rows["y"] = reference_losses(rows)
    rows["open"] = rows.loss_db == "no signal"
    rows["last_kind"] = (rows.taken == "after cleaning").astype(int)
    days = rows.groupby(["segment", "measured_on"])
    rows = rows[rows.last_kind == days.last_kind.transform("max")]
    days = rows.groupby(["segment", "measured_on"]).agg(y=("y", "median"), open=("open", "any")).reset_index()
    return days[~days.open & days.y.notna()].assign(as_new=False)


def first_fittings():
    fittings = table("fittings").sort_values("fitted_on")
    first = fittings.groupby("segment").first()
    return pd.to_datetime(first.fitted_on), first.fitted_basis.fillna("known")


def pool_case():
    """(FitReadings, Segments, serials, first fitted days) of every segment that was ever fitted."""
    fitted_on, basis = first_fittings()
    segments = table("segments").set_index("segment").loc[fitted_on.index]
    as_new = segments[segments.as_new_loss_db.notna()]
    as_new = pd.DataFrame({"segment": as_new.index, "y": as_new.as_new_loss_db.to_numpy(), "x": 0.0, "as_new": True})
    days = day_readings()
    days = days[days.segment.isin(fitted_on.index)].copy()
    days["x"] = (pd.to_datetime(days.measured_on) - fitted_on[days.segment].to_numpy()).dt.days / 365.25
    at_fitting = days[days.x == 0].segment
    rows = pd.concat([as_new[~as_new.segment.isin(at_fitting)], days[["segment", "y", "x", "as_new"]]])
    rows = rows.sort_values(["segment", "x"])
    readings = FitReadings.of(fitted_on.index.get_indexer(rows.segment), rows.x, rows.y, rows.as_new.astype(bool))
    now = ((ON - fitted_on).dt.days / 365.25).to_numpy()
    asked = Segments.of(segments.length_m, now, age_known=(basis != "not later than").to_numpy())
    return readings, asked, list(fitted_on.index), fitted_on


@pytest.fixture(scope="module")
def case():
    readings, asked, serials, fitted_on = pool_case()
    model, trends = fit_and_assess(readings, asked)
    expected = pd.read_csv(DATA / "pool_expected" / "expected.csv").set_index("segment")
    rows = np.array([serials.index(serial) for serial in expected.index])
    return {
        "readings": readings, "asked": asked, "model": model, "trends": trends,
        "expected": expected, "rows": rows, "fitted_on": fitted_on[expected.index],
    }  # fmt: skip


def differences(case, ours, column):
    """|ours - expected| where expected has a value; and that we have none exactly where it has none."""
    expected = case["expected"][column].to_numpy(float)
    ours = ours[case["rows"]]
    return np.abs(ours - expected)[~np.isnan(expected)]


def test_pooled_parameters_agree(case):
    fit = case["model"].fit
    expected = json.loads((DATA / "pool_expected" / "expected_trend.json").read_text())["pool_trend"]
    assert (case["model"].segments, case["model"].readings) == (expected["segments"], expected["readings"])
    assert fit.intercept_db == pytest.approx(expected["intercept_db"], abs=0.0005)
    assert fit.rate_db == pytest.approx(expected["rate_db_per_year"], abs=0.0005)
    sd_intercept, sd_rate, correlation = fit.deviations
    assert sd_intercept == pytest.approx(expected["sd_intercept_db"], abs=0.0003)
    assert sd_rate == pytest.approx(expected["sd_rate_db_per_year"], abs=0.0003)
    assert correlation == pytest.approx(expected["correlation"], abs=0.005)
    assert fit.residual_sd == pytest.approx(expected["residual_sd_db"], abs=0.0003)
    assert not fit.at_boundary


def test_readings_in_the_fit_are_counted_alike(case):
    expected = case["expected"].readings_in_fit.fillna(0).to_numpy(int)
    assert case["trends"].readings[case["rows"]].tolist() == expected.tolist()


def test_trend_rests_on_own_readings_or_on_the_kind(case):
    expected = case["expected"].trend_from
    ours = np.where(case["trends"].own_readings, "own readings", "similar cables")[case["rows"]]
    known = expected.notna().to_numpy()
    assert ours[known].tolist() == expected[known].tolist()


@pytest.mark.parametrize(
    ("column", "tolerance"),
    [
        ("trend_intercept_db", 0.001),
        ("trend_rate_db_per_year", 0.001),
        ("p_falling", 0.002),
        ("p_line", 0.002),
        ("chance_over", 0.003),
    ],
)
def test_each_segment_agrees(case, column, tolerance):
    trends = case["trends"]
    ours = {
        "trend_intercept_db": trends.lines.intercept,
        "trend_rate_db_per_year": trends.lines.rate,
        "p_falling": trends.falling_chance,
        "p_line": trends.line_p_value,
        "chance_over": trends.chance_over,
    }[column]
    expected = case["expected"][column].to_numpy(float)
    assert np.isnan(ours[case["rows"]]).tolist() == np.isnan(expected).tolist()
    assert differences(case, ours, column).max() <= tolerance


def dates_of(case, x):
    """First fitted + ceil(365.25 t) days."""
    return [
        None if not np.isfinite(t) else fitted + timedelta(days=int(np.ceil(365.25 * t)))
        for t, fitted in zip(x[case["rows"]], case["fitted_on"], strict=True)
    ]


def test_due_days_agree(case):
    expected = pd.to_datetime(case["expected"].trend_due_on)
    off = compared_days(dates_of(case, case["trends"].early), expected)
    assert max(off) <= 3


def test_expected_days_agree(case):
    expected = pd.to_datetime(case["expected"].trend_expected_on)
    ours = dates_of(case, case["trends"].expected)
    off = np.array(compared_days(ours, expected))
    allowed = np.array(
        [max(5, 0.002 * (e - f).days) for e, f in zip(expected, case["fitted_on"], strict=True) if pd.notna(e)]
    )
    assert (off <= allowed).all()


def compared_days(ours, expected):
    assert [day is None for day in ours] == expected.isna().tolist()
    return [abs((day - other).days) for day, other in zip(ours, expected, strict=True) if day is not None]


def test_reasons_for_no_date_agree(case):
    ours = [None if reason is None else str(reason) for reason in case["trends"].no_date_reason[case["rows"]]]
    expected = case["expected"].no_date_reason
    in_fit = case["expected"].readings_in_fit.notna().to_numpy()
    assert [reason for reason, known in zip(ours, in_fit, strict=True) if known] == [
        None if pd.isna(reason) else reason for reason in expected[in_fit]
    ]
    assert {reason for reason, known in zip(ours, in_fit, strict=True) if not known} == {"age not known"}


def test_one_segment_is_answered_alike_from_the_stored_model(case):
    model = PoolModel.from_json(json.loads(json.dumps(case["model"].as_json())))
    readings = case["readings"]
    for row in (2, 50, 101):
        mine = readings.segment == row
        alone = FitReadings.of(np.zeros(mine.sum()), readings.x[mine], readings.loss_db[mine], readings.as_new[mine])
        trends = assess_segments(model, alone, case["asked"].take([row]))
        for name in ("chance_over", "early", "expected", "falling_chance", "line_p_value"):
            assert getattr(trends, name)[0] == pytest.approx(getattr(case["trends"], name)[row], rel=1e-9, nan_ok=True)
        assert trends.no_date_reason[0] == case["trends"].no_date_reason[row]
