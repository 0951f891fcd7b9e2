"""Rules against each other as programs read them from the command `rules`."""

import io
import json

import pytest
from django.core.management import call_command
from trials_made import ON, RULES, make_used_pool, play_few
from worn_pools import make_pool

pytestmark = pytest.mark.django_db


def simulated():
    out = io.StringIO()
    call_command("rules", "--on", ON.isoformat(), "--format", "json", stdout=out)
    return json.loads(out.getvalue())["simulated"]


def test_programs_read_each_rule_with_its_intervals(monkeypatch):
    play_few(monkeypatch)
    assert simulated() is None
    make_used_pool(rate_db=0.9)
    rows = simulated()
    assert [row["rule"] for row in rows] == RULES
    for row in rows:
        for name in ("cables_a_year", "events_at_risk", "late"):
            assert 0 <= row[f"{name}_low"] <= row[name] <= row[f"{name}_high"]
        assert row["events_at_risk"] <= row["events_a_year"] == 33
        assert row["positions"] == 12
        assert (row["readings_a_year"] > 0) == row["rule"].startswith("trend")
    by_rule = {row["rule"]: row for row in rows}
    often, seldom = (by_rule[f"trend, read every {months} months"] for months in (6, 24))
    assert often["mats_checked_a_year"] > seldom["mats_checked_a_year"]
    assert often["cables_a_year"] < seldom["cables_a_year"]
    assert by_rule["today’s limits"]["late"] > by_rule["limits by length"]["late"]


def test_of_events_that_nobody_logged_nothing_is_said(monkeypatch):
    play_few(monkeypatch)
    make_pool(rate_db=0.9)
    for row in simulated():
        assert (row["events_a_year"], row["events_at_risk"], row["events_at_risk_high"]) == (0, None, None)
        assert row["cables_a_year"] is not None
    out = io.StringIO()
    call_command("rules", "--on", ON.isoformat(), stdout=out)
    played = out.getvalue().partition("Rules played")[2].splitlines()
    assert all("not known" in line for line in played if line.startswith(tuple(RULES)))
    assert sum(line.startswith(tuple(RULES)) for line in played) == len(RULES)
