"""A pool made by hand for the rules, edge by edge, from its files to the printed report.

Source of the answers: computed apart from the project, in plain Python (`tests/data/pool_rules_expected/README.md`
says which row shows which rule, and gives the tolerances used here).
"""

import csv
import io
import json
from datetime import date
from pathlib import Path

import pytest
from django.core.management import call_command

from inspections.assessment.wear_state import read_wear_state

pytestmark = pytest.mark.django_db
DATA = Path(__file__).parents[2] / "data"
ON = date(2026, 9, 30)
EXPECTED = list(csv.DictReader((DATA / "pool_rules_expected/expected.csv").read_text(encoding="utf-8").splitlines()))
EXPECTED_MATS = json.loads((DATA / "pool_rules_expected/expected_mats.json").read_text(encoding="utf-8"))
LOSSES = ("loss_db", "reference_loss_db")


@pytest.fixture(scope="module")
def report(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock():
        # the counts of usual use come without the question that unusual values ask
        call_command("load", str(DATA / "pool_rules"), stdout=io.StringIO(), stderr=io.StringIO())
        call_command("assess", "--on", ON.isoformat(), stdout=io.StringIO())
        out = io.StringIO()
        call_command("due", "--on", ON.isoformat(), "--all", "--format", "json", stdout=out)
        yield json.loads(out.getvalue())
        call_command("flush", verbosity=0, interactive=False)


@pytest.fixture(scope="module")
def by_segment(report):
    return {row["segment"]: row for row in report["segments"]}


@pytest.fixture(scope="module")
def uncertainties(report, django_db_blocker):
    """{segment: standard uncertainty of its newest comparable reading}"""
    with django_db_blocker.unblock():
        state = read_wear_state(ON)
        from fleet.models import CableSegment

        serials = dict(CableSegment.objects.values_list("pk", "serial"))
    newest = state.by_day.newest_of(state.segment)
    pairs = zip(state.segment.tolist(), newest.uncertainty_db.tolist(), strict=True)
    return {serials[segment]: uncertainty for segment, uncertainty in pairs}


def exact(row):
    """What a row of the report says, under the names of the columns of the answers."""
    causes = row["causes"]
    age, events, loss, damage = causes["age"], causes["events"], causes["loss"] or {}, causes["damage"] or {}
    before = row["before_event"] or {}
    said = {
        "mat": row["mat"],
        "position": row["position"],
        "age_due_on": age["due_on"],
        "age_basis": age["basis"],
        "event_count": events["count"],
        "not_confirmed": events["not_confirmed"],
        "given_way": events["given_way"],
        "events_limit": events["limit"],
        "events_due_on": events["due_on"],
        "events_basis": events["basis"],
        "measured_on": loss.get("measured_on"),
        "verdict": loss.get("verdict"),
        "loss_due_on": loss.get("due_on"),
        "damage_due_on": damage.get("due_on"),
        "damage_place": damage.get("place"),
        "due_on": row["due_on"],
        "cause": row["cause"],
        "status": row["status"],
        "before_event": before.get("event"),
        "measure_reason": row["measure_reason"],
    }
    return {name: "" if value is None else str(value) for name, value in said.items()}


def test_every_segment_fitted_in_a_mat_in_service_is_reported_once(report):
    assert sorted(row["segment"] for row in report["segments"]) == sorted(row["segment"] for row in EXPECTED)


@pytest.mark.parametrize("expected", EXPECTED, ids=lambda row: row["segment"])
def test_each_rule_holds_for_the_cable_that_shows_it(by_segment, uncertainties, expected):
    row = by_segment[expected["segment"]]
    said = exact(row)
    assert said == {name: expected[name] for name in said}
    loss = row["causes"]["loss"] or {}
    for name in LOSSES:
        assert loss.get(name) == (pytest.approx(float(expected[name]), abs=5e-4) if expected[name] else None)
    # a day without a comparable reading has no uncertainty
    if expected["standard_uncertainty_db"]:
        assert uncertainties[row["segment"]] == pytest.approx(float(expected["standard_uncertainty_db"]))
    assert row["causes"]["trend"] is None
    assert row["causes"]["age"]["applies"] and row["causes"]["events"]["applies"]


def test_mats_with_an_empty_position_and_mats_held_back(report):
    assert {name: report[name] for name in EXPECTED_MATS} == EXPECTED_MATS
