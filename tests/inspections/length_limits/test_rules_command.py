"""The command `rules`: what programs read of limits by length, by years and by events, and after files went round.

That the ages are those of a likelihood that was computed apart: tests/numeric/test_pool_trend_case.py.
"""

import csv
import io
import json
from datetime import date, timedelta
from math import inf

import pytest
from django.core.management import CommandError, call_command
from factories import make_event, make_mat, make_usage_event, set_policy_value
from trials_made import play_few
from worn_pools import FITTED_ON, make_pool

from inspections.length_limits.services import pool_limits

pytestmark = [pytest.mark.django_db]
ON = date(2026, 10, 1)
NAMES = [
    *("design", "position", "length_m", "accepted_risk", "age_limit_years", "age_limit_low", "age_limit_high"),
    *("event_limit", "event_limit_low", "event_limit_high", "today_share_over", "today_life_left", "falls"),
]


@pytest.fixture(autouse=True)
def rules_played_on_few(monkeypatch):
    """The report plays rules, too: of these rule_trial/test_simulated.py."""
    play_few(monkeypatch)


def rules(how, on=ON):
    out = io.StringIO()
    call_command("rules", "--on", on.isoformat(), "--format", how, stdout=out)
    return out.getvalue()


def go_out(mats, every_days=20):
    """Each mat goes to events of its own from the day of fitting on, the later ones less often."""
    for number, mat in enumerate(mats, 1):
        for week in range(36):
            make_usage_event(mat, make_event(FITTED_ON + timedelta(week * (every_days + number) % 720)))


@pytest.fixture
def mats():
    """Four mats whose events are known from new, one whose events nobody wrote down."""
    mats = make_pool(mats=4, rate_db=0.9)
    go_out(mats)
    return [*mats, *make_pool(mats=1, rate_db=0.9, seed=9)]


def test_programs_read_limits_by_years_and_events_of_each_position(mats):
    report = json.loads(rules("json"))
    assert (report["on"], report["accepted_risk"], report["clock"]) == (ON.isoformat(), 0.05, "years")
    assert 1.8 < report["watched_until_years"] < 2
    found = report["rules"]
    assert [(row["design"], row["position"]) for row in found] == sorted(
        (mat.design.code, number) for mat in mats for number in range(1, 5)
    )
    assert all(list(row) == NAMES for row in found)
    by_length = sorted(found, key=lambda row: -row["length_m"])
    for name in ("age_limit_years", "event_limit"):
        limits = [row[name] for row in by_length]
        assert limits == sorted(limits)
    assert by_length[0]["today_share_over"] > 0.5 > by_length[-1]["today_share_over"]
    for name, ends in (("age_limit_years", "age_limit"), ("event_limit", "event_limit")):
        # no end is one that lies beyond the horizon
        assert all(row[f"{ends}_low"] <= row[name] <= (row[f"{ends}_high"] or inf) for row in found)


def test_people_and_spreadsheets_read_the_same(mats):
    found = json.loads(rules("json"))["rules"]
    printed = list(csv.DictReader(rules("csv").splitlines()))
    assert [list(row) for row in printed] == [NAMES] * len(found)
    for row, written in zip(found, printed, strict=True):
        assert written["design"] == row["design"]
        assert [float(written[name] or "inf") for name in NAMES[1:-1]] == [
            inf if row[name] is None else row[name] for name in NAMES[1:-1]
        ]
        assert written["falls"] == str(row["falls"])
    text = rules("text")
    assert max(map(len, text.splitlines())) <= 100
    assert "No cable was watched beyond 1.9 years." in text
    said = [line.split() for line in text.partition("What rules cost")[0].splitlines() if line.strip()[:1].isdigit()]
    for line, row in zip(said, found, strict=True):
        assert line[:4] == [str(row["position"]), f"{row['length_m']:.2f}", "m", f"{row['age_limit_years']:.2f}"]
        assert f"{row['event_limit']:.0f}" in line


def test_where_the_readings_fall_no_limit_is_said_to_be_never_reached():
    make_pool(mats=4, rate_db=-0.15)
    assert {(row["age_limit_years"], row["falls"]) for row in json.loads(rules("json"))["rules"]} == {(None, True)}
    text = rules("text")
    assert text.count("not known: the readings fall") == 16
    assert "40 years" not in text


def test_cables_whose_events_nobody_wrote_down_tell_nothing_of_events(mats):
    with_all = [row.age for row in pool_limits(ON, ON, "events").rows if row.design == mats[0].design]
    assert pool_limits(ON, ON, "events").model.segments == 16
    assert pool_limits(ON, ON, "years").model.segments == 20
    # forgotten events would make it seem that the same wear came of fewer of them
    make_pool(mats=2, rate_db=2.0, seed=3)
    again = [row.age for row in pool_limits(ON, ON, "events").rows if row.design == mats[0].design]
    assert again == pytest.approx(with_all, rel=0.02)


def test_a_pool_without_readings_has_no_rules():
    make_mat(fitted=True)
    assert "There is no trend of the pool yet" in rules("text")
    assert rules("csv").splitlines() == [",".join(NAMES)]
    report = json.loads(rules("json"))
    assert (report["rules"], report["watched_until_years"]) == ([], None)


@pytest.mark.django_db(transaction=True)
def test_limits_of_positions_go_round_through_files_and_mean_the_same(mats, keeper, tmp_path):
    """On both databases: set by position, exported, loaded into an empty pool, and answered alike."""
    design = mats[0].design
    for position, years in ((1, 4.0), (3, 31 / 12), (4, 0.0)):
        set_policy_value("age_limit_years", years, design=design, position=position, by=keeper, on=ON)
    set_policy_value("event_limit", 90, design=design, position=2, by=keeper, on=ON)
    before = json.loads(rules("json"))
    call_command("export", str(tmp_path / "pool"), stdout=io.StringIO(), stderr=io.StringIO())
    call_command("flush", verbosity=0, interactive=False)
    call_command("load", str(tmp_path / "pool"), stdout=io.StringIO(), stderr=io.StringIO())
    after = json.loads(rules("json"))
    own = [row for row in after["rules"] if row["design"] == design.code]
    assert [row["today_share_over"] is None for row in own] == [False, False, False, True]
    for row, was in zip(after["rules"], before["rules"], strict=True):
        assert row.pop("design") == was.pop("design")
        assert {name for name in row if row[name] is None} == {name for name in was if was[name] is None}
        known = [name for name in row if row[name] is not None]
        assert [row[name] for name in known] == pytest.approx([was[name] for name in known], rel=0.02)


@pytest.mark.parametrize("on", [date.min, date(1999, 1, 1), date.max])
def test_days_far_away_without_a_record_are_answered(on):
    assert "no rule can be played" in rules("text", on)
    assert json.loads(rules("json", on))["rules"] == []


def test_a_day_that_is_none_is_refused_in_a_sentence():
    with pytest.raises(CommandError, match="“2026-02-30” is no day of the calendar"):
        call_command("rules", "--on", "2026-02-30")
