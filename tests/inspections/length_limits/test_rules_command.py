"""The command `rules` on the invented pool of tests/data/pool_trend, from its files to what programs read.

Source of the answers: the dense likelihood that was computed apart from the project (README of `pool_trend_expected`).
A cable without any reading is a fresh one of its length, so that its early date, less its first day, is the age limit.
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
NEVER_READ = {row["length_m"]: row for row in EXPECTED if row["readings_in_fit"] == "0"}


def rules(*how):
    out = io.StringIO()
    call_command("rules", *how, stdout=out)
    return out.getvalue()


@pytest.fixture(scope="module")
def printed(django_db_setup, django_db_blocker):
    """(JSON, text) of the folder of files, loaded once."""
    with django_db_blocker.unblock():
        call_command("load", str(DATA / "pool_trend"), stdout=io.StringIO(), stderr=io.StringIO())
        yield [rules("--on", ON.isoformat(), "--format", how) for how in ("json", "text")]
        call_command("flush", verbosity=0, interactive=False)


@pytest.fixture(scope="module")
def report(printed):
    return json.loads(printed[0])


def test_the_age_limits_are_those_that_were_computed_apart(report):
    compared = 0
    for row in report["rules"]:
        if expected := NEVER_READ.get(str(row["length_m"])):
            days = (date.fromisoformat(expected["trend_due_on"]) - date.fromisoformat(expected["first_fitted_on"])).days
            # the tolerance of the answers, and the day to which they are rounded up
            assert row["age_limit_years"] * 365.25 == pytest.approx(days, abs=6, rel=0.003)
            compared += 1
    assert compared == 8
    assert len(NEVER_READ) == 6


def test_each_position_of_both_designs_is_answered(report):
    assert report["on"] == ON.isoformat()
    assert (report["accepted_risk"], report["clock"]) == (0.05, "years")
    assert [(row["design"], row["position"]) for row in report["rules"]] == [
        *(("four", n) for n in range(1, 5)),
        *(("seven", n) for n in range(1, 8)),
    ]
    by_length = sorted(report["rules"], key=lambda row: row["length_m"])
    for name, sign in (("age_limit_years", -1), ("today_share_over", 1), ("today_life_left", -1)):
        values = [sign * row[name] for row in by_length]
        assert values == pytest.approx(sorted(values))
    assert all(row["age_limit_low"] <= row["age_limit_years"] <= row["age_limit_high"] for row in report["rules"])
    alike = [row for row in report["rules"] if row["length_m"] == 2.1]
    assert alike[0]["age_limit_years"] == alike[1]["age_limit_years"]


def test_events_have_a_limit_by_the_fit_that_counts_them(report):
    limits = [row["event_limit"] for row in sorted(report["rules"], key=lambda row: row["length_m"])]
    known = [limit for limit in limits if limit is not None]
    assert known == sorted(known, reverse=True)
    assert all(row["event_limit_low"] <= row["event_limit"] for row in report["rules"] if row["event_limit"])


def test_what_is_not_played_yet_is_said_to_be_unknown(report):
    assert report["simulated"] is None


def test_people_read_the_same_limits(printed, report):
    first, *lines = printed[1].splitlines()
    assert f"No cable was watched beyond {report['watched_until_years']:.1f} years." in first
    for line, row in zip(lines, report["rules"], strict=True):
        assert line.startswith(f"{row['design']} position {row['position']}")
        assert f"0.05 over at {row['age_limit_years']:.2f} years" in line
