"""A small invented pool with its right answers, from its files to the printed report.

Source of the answers: computed apart from the project, rules in plain Python, the trend by a dense REML likelihood
(`tests/data/pool_expected/README.md` tells how, and gives the tolerances used here).
"""

import csv
import io
import json
from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from django.core.management import call_command
from django.db.models import prefetch_related_objects

from inspections.assessment import services

pytestmark = pytest.mark.django_db
DATA = Path(__file__).parents[2] / "data"
ON = date(2026, 9, 30)
EXPECTED = list(csv.DictReader((DATA / "pool_expected/expected.csv").read_text(encoding="utf-8").splitlines()))
EXPECTED_TREND = json.loads((DATA / "pool_expected/expected_trend.json").read_text())


@pytest.fixture(scope="module")
def pool(django_db_setup, django_db_blocker):
    """The folder of files, loaded once and assessed as of the day of the answers."""
    with django_db_blocker.unblock():
        call_command("load", str(DATA / "pool"), stdout=io.StringIO(), stderr=io.StringIO())
        call_command("assess", "--on", ON.isoformat(), stdout=io.StringIO())
        yield
        call_command("flush", verbosity=0, interactive=False)


@pytest.fixture(scope="module")
def report(pool, django_db_blocker):
    with django_db_blocker.unblock():
        out = io.StringIO()
        call_command("due", "--on", ON.isoformat(), "--all", "--format", "json", stdout=out)
    return json.loads(out.getvalue())


@pytest.fixture(scope="module")
def by_segment(report):
    return {row["segment"]: row for row in report["segments"]}


@pytest.fixture(scope="module")
def without_trend(pool, django_db_blocker):
    with django_db_blocker.unblock():
        rows = services.assessments(ON)
        prefetch_related_objects(rows, "segment", "before_event")
        return {row.segment.serial: row for row in rows}


def text(value):
    return "" if value is None else str(value)


def test_every_segment_fitted_in_a_mat_in_service_is_reported_once(report):
    places = {row["segment"]: (row["mat"], row["position"]) for row in report["segments"]}
    assert places == {row["segment"]: (row["mat"], int(row["position"])) for row in EXPECTED}
    assert len(report["segments"]) == len(EXPECTED)


@pytest.mark.parametrize("expected", EXPECTED, ids=lambda row: row["segment"])
class TestSegment:
    def test_age_and_events(self, by_segment, expected):
        causes = by_segment[expected["segment"]]["causes"]
        age, events = causes["age"], causes["events"]
        assert {
            "age_due_on": age["due_on"],
            "age_basis": age["basis"],
            "event_count": str(events["count"]),
            "not_confirmed": str(events["not_confirmed"]),
            "events_due_on": text(events["due_on"]),
            "events_basis": text(events["basis"]),
        }.items() <= expected.items()

    def test_loss_and_damage(self, by_segment, expected):
        causes = by_segment[expected["segment"]]["causes"]
        loss, damage = causes["loss"] or {}, causes["damage"] or {}
        assert {
            "measured_on": text(loss.get("measured_on")),
            "verdict": text(loss.get("verdict")),
            "loss_due_on": text(loss.get("due_on")),
            "damage_due_on": text(damage.get("due_on")),
            "damage_place": text(damage.get("place")),
        }.items() <= expected.items()
        for column in ("loss_db", "reference_loss_db"):
            assert loss.get(column) == (pytest.approx(float(expected[column]), abs=5e-4) if expected[column] else None)

    def test_status_without_the_trend(self, without_trend, expected):
        row = without_trend[expected["segment"]]
        assert (text(row.due_on), row.cause) == (expected["due_on_without_trend"], expected["cause_without_trend"])
        assert row.status in expected["status_without_trend"].split(" or ")
        if row.status == "change before":
            assert row.before_event.code == expected["before_event_without_trend"]

    def test_whose_readings_its_trend_rests_on(self, by_segment, expected):
        trend = by_segment[expected["segment"]]["causes"]["trend"]
        # age *not later than*: not in the fit, no trend
        assert (trend or {}).get("from", "") == expected["trend_from"]
        assert (trend is None) == (expected["readings_in_fit"] == "")

    def test_a_date_by_trend_is_one_of_the_causes(self, by_segment, expected):
        row = by_segment[expected["segment"]]
        trend_due_on = (row["causes"]["trend"] or {}).get("due_on")
        assert text(row["due_on"]) == min(filter(None, [expected["due_on_without_trend"], trend_due_on]), default="")


def test_empty_positions_and_mats_held_back(report):
    assert report["empty_positions"] == EXPECTED_TREND["empty_positions"]
    held_back = [{"mat": row["mat"], "since": row["since"]} for row in report["held_back"]]
    assert held_back == EXPECTED_TREND["held_back"]


def test_event_counts_agree_with_pandas_on_the_files(by_segment):
    """The count from the loaded files, by a join in pandas instead of the app's searches."""
    files = {name: pd.read_csv(DATA / f"pool/{name}.csv") for name in ("usage", "events", "fittings", "segments")}
    on = pd.Timestamp(ON)
    usage = files["usage"].merge(files["events"], on="event")
    for column in ("starts_on", "ends_on"):
        usage[column] = pd.to_datetime(usage[column])
    over = (usage.state == "planned") & (usage.ends_on < on)
    usage = usage[((usage.state == "went") | over) & (usage.starts_on <= on)]
    fittings = files["fittings"].assign(
        fitted_on=lambda f: pd.to_datetime(f.fitted_on),
        removed_on=lambda f: pd.to_datetime(f.removed_on).fillna(pd.Timestamp.max.normalize()),
    )
    spans = usage.merge(fittings, on="mat")
    spans = spans[(spans.starts_on >= spans.fitted_on) & (spans.starts_on < spans.removed_on)]
    counts = spans.groupby("segment").counts_for.sum()
    before = files["segments"].set_index("segment").events_before.fillna(0)
    wanted = counts.reindex(before.index, fill_value=0).fillna(0) + before
    given = {segment: row["causes"]["events"]["count"] for segment, row in by_segment.items()}
    assert given == {segment: int(wanted[segment]) for segment in given}


def test_the_report_has_exactly_the_agreed_keys(report):
    assert list(report) == ["on", "policy", "pool_trend", "segments", "empty_positions", "held_back"]
    assert list(report["pool_trend"]) == [
        "clock", "segments", "readings", "intercept_db", "rate_db_per_year", "sd_intercept_db", "sd_rate_db_per_year",
        "correlation", "residual_sd_db", "bench_days", "bench_day_sd_db", "wander_db", "settling_db", "at_boundary",
    ]  # fmt: skip
    row = report["segments"][0]
    assert list(row) == [
        "segment", "mat", "position", "length_m", "status", "due_on", "cause", "causes", "measure_reason",
        "before_event",
    ]  # fmt: skip
    assert list(row["causes"]) == ["age", "events", "loss", "trend", "damage"]
    with_trend = next(row for row in report["segments"] if row["causes"]["trend"])
    assert list(with_trend["causes"]["trend"]) == [
        "due_on", "expected_on", "chance_over", "from", "level_db", "level_on", "rate_db_per_year", "no_date_reason",
    ]  # fmt: skip


def test_rows_stand_by_due_date_then_mat_then_position(report):
    keys = [(row["due_on"] is None, row["due_on"] or "", row["mat"], row["position"]) for row in report["segments"]]
    assert keys == sorted(keys)


def test_without_all_only_dates_within_the_look_ahead_are_printed(pool, django_db_blocker):
    with django_db_blocker.unblock():
        out = io.StringIO()
        call_command("due", "--on", ON.isoformat(), "--within", "30", "--format", "json", stdout=out)
    due_on = [row["due_on"] for row in json.loads(out.getvalue())["segments"]]
    assert due_on and max(due_on) <= "2026-10-30"
