"""An invented pool with bench days and wander, from its files to the printed report.

Source of the answers: one dense likelihood of all readings, computed apart from the project
(`tests/data/pool_trend_expected/README.md` tells how, and gives the tolerances used here).
"""

import csv
import io
import json
from datetime import date
from pathlib import Path

import pytest
from django.core.management import call_command

pytestmark = [pytest.mark.django_db, pytest.mark.alike]
DATA = Path(__file__).parents[2] / "data"
ON = date(2026, 9, 30)
EXPECTED = list(csv.DictReader((DATA / "pool_trend_expected/expected.csv").read_text(encoding="utf-8").splitlines()))
EXPECTED_TREND = json.loads((DATA / "pool_trend_expected/expected_trend.json").read_text())


@pytest.fixture(scope="module")
def report(django_db_setup, django_db_blocker):
    """What `due` prints of the folder of files, loaded once and assessed as of the day of the answers."""
    out = io.StringIO()
    with django_db_blocker.unblock():
        call_command("load", str(DATA / "pool_trend"), stdout=io.StringIO(), stderr=io.StringIO())
        call_command("assess", "--on", ON.isoformat(), stdout=io.StringIO())
        call_command("due", "--on", ON.isoformat(), "--all", "--format", "json", stdout=out)
        yield json.loads(out.getvalue())
        call_command("flush", verbosity=0, interactive=False)


@pytest.fixture(scope="module")
def trends(report):
    return {row["segment"]: row["causes"]["trend"] for row in report["segments"]}


def test_the_pooled_trend(report):
    trend, expected = report["pool_trend"], EXPECTED_TREND
    counted = ("segments", "readings", "bench_days")
    assert [trend[name] for name in counted] == [expected[name] for name in counted]
    assert (trend["clock"], trend["at_boundary"]) == ("years", False)
    # tolerances: README of the answers
    for name in (
        "intercept_db", "rate_db_per_year", "sd_intercept_db", "sd_rate_db_per_year", "residual_sd_db",
        "bench_day_sd_db", "wander_db",
    ):  # fmt: skip
        assert trend[name] == pytest.approx(expected[name], abs=5e-4)
    assert trend["correlation"] == pytest.approx(expected["correlation"], abs=0.02)
    assert trend["settling_db"] == pytest.approx(expected["settling_db"], abs=0.002)


def test_every_segment_of_known_age_has_a_trend(trends):
    assert {serial for serial, trend in trends.items() if trend} == {row["segment"] for row in EXPECTED}


@pytest.mark.parametrize("name", ["trend_from", "no_date_reason"])
def test_words_agree(trends, name):
    key = {"trend_from": "from"}.get(name, name)
    ours = {row["segment"]: trends[row["segment"]][key] or "" for row in EXPECTED}
    assert ours == {row["segment"]: row[name] for row in EXPECTED}


@pytest.mark.parametrize(
    ("name", "tolerance"), [("level_db", 0.002), ("rate_db_per_year", 0.002), ("chance_over", 0.004)]
)
def test_numbers_agree(trends, name, tolerance):
    ours = [trends[row["segment"]][name] for row in EXPECTED]
    assert ours == pytest.approx([float(row[name]) for row in EXPECTED], abs=tolerance)


def test_levels_stand_on_the_day_of_the_last_reading(trends):
    ours = {row["segment"]: trends[row["segment"]]["level_on"] or "" for row in EXPECTED}
    assert ours == {row["segment"]: row["last_reading_on"] for row in EXPECTED}


@pytest.mark.parametrize(("name", "column"), [("due_on", "trend_due_on"), ("expected_on", "trend_expected_on")])
def test_dates_agree(trends, name, column):
    off = {row["segment"]: days_off(row, trends[row["segment"]][name], row[column]) for row in EXPECTED}
    assert {serial: days for serial, days in off.items() if days > 0} == {}


def days_off(row, ours, expected):
    """Days by which a date lies farther from the expected one than 5 days or 0.3 % of the time since first fitted.

    *by DATE*: reached on that day or before, and when, nobody computed.
    """
    if not ours or not expected:
        return 0 if (ours or "") == expected else 9999
    fitted, day = date.fromisoformat(row["first_fitted_on"]), date.fromisoformat(expected.removeprefix("by "))
    late = (date.fromisoformat(ours) - day).days
    allowed = max(5, 0.003 * (day - fitted).days)
    return (late if expected.startswith("by ") else abs(late)) - allowed
