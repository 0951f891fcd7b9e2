"""A back-up that an older version made: it restores, and the pool says what it said then. See tests/data/backups."""

import csv
import io
import json
import zipfile
from collections import Counter
from datetime import date
from pathlib import Path

import pytest
from backups import restore
from django.apps import apps
from django.contrib.auth.models import Group, User
from django.core.management import call_command
from django.db import connection, transaction
from django.test import override_settings

from fleet.access import MAY_BENCH, MAY_KEEP, MAY_LOG, ROLES
from fleet.models import CableSegment, Depot, Event, Mat, MatDay, Pool, RenamedCode, UsageEvent
from fleet.models.segments import ASSUMED_CABLE
from fleet.selectors.trail import trail_of
from inspections.assessment.services import ensure_assessed
from inspections.due.report import report_with_rest
from inspections.files.saving import export_zip

pytestmark = pytest.mark.django_db
FOLDER = Path(__file__).parents[2] / "data/backups"
ON = date(2026, 9, 30)

# What was renamed since: columns of files and keys of JSON, and the words that stand there.
NAMES = {
    "standing": "status",
    "measure_because": "measure_reason",
    "no_date_because": "no_date_reason",
    "withdrawn_because": "withdrawal_reason",
    "removed_because": "removal_reason",
    "ended_because": "end_reason",
    "because": "reason",
    "doubtful_because": "doubt_reason",
    "taken_back_on": "voided_on",
    "taken_back_because": "void_reason",
}
WORDS = {
    "sound": "ok",
    "its kind": "similar cables",
    "its kind is due": "similar cables are due",
    "no through": "no signal",
    "told": "reported",
    "Usual use, as told at the start": "Usual use",
}
# Columns and keys that came since, with what they say of a pool that knew nothing of them.
COLUMNS_SINCE = {"positions.csv": {"length_basis": "known"}, "segments.csv": {"length_basis": "known"}}
COLUMNS_SINCE["mats.csv"] = {"acquired_basis": "known"}
COLUMNS_SINCE["usage.csv"] = {"home_on": "", "shares_a_day": "no"}
COLUMNS_SINCE["cable_types.csv"] = {"connector_feed": "", "connector_element": ""}
COLUMNS_SINCE["mat_designs.csv"] = {"steps": ""}
COLUMNS_SINCE["policy.csv"] = {"position": ""}
COLUMNS_SINCE["instruments.csv"] = {"kind": "", "set_limit_db": "", "repeatability_db": "", "leads_taken_out": "no"}
COLUMNS_SINCE["measurements.csv"] = {"method": ""}
COLUMNS_SINCE["fittings.csv"] = {"torque_nm": "", "end_test": "", "remark": ""}
# What files did not say then: what was withdrawn, as `make_pool.py` withdraws it.
WITHDRAWN = {"S-4": ("2026-09-30", "crushed by a car"), "old bridge": ("2026-09-30", "dropped")}
WITHDRAWN["thick"] = ("2026-09-30", "never bought")
# Files that came since: such a pool holds no notes, and its work orders and its shelf stood in no file.
FILES_SINCE = {"notes.csv", "work_orders.csv", "reference_pieces.csv", "reference_readings.csv", "bench_days.csv"}
FILES_SINCE |= {"stock.csv", "prices.csv", "series.csv", "depots.csv"}
# The one series, which ends early; it got its code since.
SERIES = {"series": "S-2026-01", "name": "Park loop", "starts_on": "2026-09-05", "until": "2026-11-28"}
SERIES |= {"every_weeks": "1", "length_days": "1"}
# the week that was called off by itself
ALONE = {"E-2026-08"}
KEYS_SINCE = {"age/limit_years": 4.0, "age/applies": True, "events/applies": True, "events/given_way": 0}
# What the rules of today say otherwise: of causes reached the gravest leads, and *similar cables* ask to be measured
# only where nothing else asks, or is due.
RULES_SINCE = {
    "/segments/C-4|M-1|4/cause": "loss",
    "/segments/C-20|Ü-1|4/cause": "loss",
    "/segments/C-12|M-3|4/measure_reason": "never measured",
    "/segments/C-11|M-3|3/measure_reason": "doubtful",
}
# The trend is since then another model: its own numbers, and what follows from a date of its own, are left out.
OF_THE_TREND = ("due_on", "status", "measure_reason")
# Settings that the policy has no more: no file and no page holds them, their rows stay.
NO_MORE = {"detection_goal"}
# Of codes that differ in capitals only, the later got a number behind it.
LONG = "LONG RUN OF THE HILL CLUB ".ljust(60, "X")
CODES = {
    "THIN": "THIN (2)",
    "FOUR": "FOUR (2)",
    "m-1": "m-1 (3)",
    "ü-1": "ü-1 (2)",
    "c-1": "c-1 (2)",
    "e-2026-01": "e-2026-01 (2)",
    LONG: f"{LONG[:56]} (2)",
    "Quay Street": "Quay Street (2)",
    "quay street": "quay street (3)",
    "BRIDGE 1": "BRIDGE 1 (2)",
}


@pytest.fixture(scope="module")
def restored(django_db_setup, django_db_blocker, tmp_path_factory):
    """The pool of the back-up in the database, for all tests here: bringing it up to date takes some seconds."""
    with django_db_blocker.unblock():
        made_by_migrations = described()
        with override_settings(DATA_DIR=tmp_path_factory.mktemp("restored")):
            restore(FOLDER / f"ffa95ea_{connection.vendor}.zip")
        with django_db_blocker.block():
            yield made_by_migrations
        call_command("flush", interactive=False, verbosity=0)


def described():
    """All that PostgreSQL knows of the tables here: columns, constraints, indexes, counters."""
    if connection.vendor != "postgresql":
        return None
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT c.oid::regclass::text, attname, format_type(atttypid, atttypmod), attnotnull::text, "
            "attidentity::text, attcollation::regcollation::text, pg_get_expr(adbin, adrelid), "
            "pg_get_serial_sequence(quote_ident(relname), attname) FROM pg_attribute a "
            "JOIN pg_class c ON c.oid = attrelid LEFT JOIN pg_attrdef d ON (adrelid, adnum) = (attrelid, attnum) "
            "WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND attnum > 0 AND NOT attisdropped "
            "UNION ALL SELECT conrelid::regclass::text, conname, pg_get_constraintdef(oid), contype::text, "
            "condeferrable::text, condeferred::text, convalidated::text, '' FROM pg_constraint WHERE conrelid <> 0 "
            "UNION ALL SELECT schemaname, tablename, indexname, indexdef, '', '', '', '' FROM pg_indexes "
            "WHERE schemaname NOT LIKE 'pg!_%' ESCAPE '!' "
            "UNION ALL SELECT nspname, relname, relkind::text, reloptions::text, '', '', '', '' FROM pg_class "
            "JOIN pg_namespace n ON n.oid = relnamespace WHERE nspname NOT LIKE 'pg!_%' ESCAPE '!'"
        )
        return sorted(map(repr, cursor.fetchall()))


@pytest.fixture
def then(restored):
    """What the pool said of itself when it was backed up, in today's words."""
    return json.loads((FOLDER / "ffa95ea.json").read_text(encoding="utf-8"))


def in_todays_words(said):
    if isinstance(said, dict):
        return {NAMES.get(name, name): in_todays_words(value) for name, value in said.items()}
    if isinstance(said, list):
        return [in_todays_words(value) for value in said]
    return CODES.get(said, WORDS.get(said, said)) if isinstance(said, str) else said


def flat(said, path=""):
    """{path: value} of nested dicts; rows of a list go by what they name."""
    if isinstance(said, list) and said and isinstance(said[0], dict):
        said = {"|".join(str(row.get(key)) for key in ("segment", "mat", "position")): row for row in said}
    if not isinstance(said, dict):
        return {path: said}
    return {name: value for key, part in said.items() for name, value in flat(part, f"{path}/{key}").items()}


def rows_of(text):
    """The rows of a file, in an order that does not hang on its codes."""
    rows = (row for row in csv.DictReader(io.StringIO(text, newline="")) if row.get("setting") not in NO_MORE)
    return sorted(rows, key=lambda row: sorted(row.items()))


def test_it_gives_the_same_due_list(then):
    ensure_assessed(ON)
    now, before = flat(report_with_rest(ON, everything=True)[0]), flat(in_todays_words(then["due"])) | RULES_SINCE
    led = led_by_the_trend(before) | led_by_the_trend(now)
    now, before = ({name: value for name, value in said.items() if name not in led} for said in (now, before))
    new = {name: value for name, value in now.items() if name not in before}
    assert {(name.partition("causes/")[2], value) for name, value in new.items()} == set(KEYS_SINCE.items())
    assert {name: now[name] for name in before} == before
    # most of what it says hangs on no trend: 28 cables by age, events, loss and damage
    assert len(before) > 500


def led_by_the_trend(said):
    """Names of what the trend alone says: of the pool, of each cable, and what follows where it gives the date or asks
    for a reading."""
    of_cables = {name.removesuffix("/due_on") for name in said if name.count("/") == 3 and name.endswith("/due_on")}
    led = {
        cable
        for cable in of_cables
        if said.get(f"{cable}/causes/trend/due_on") == said[f"{cable}/due_on"]
        or said[f"{cable}/measure_reason"] in ("falling", "does not follow a line")
    }
    following = {f"{cable}/{name}" for cable in led for name in OF_THE_TREND}
    return following | {name for name in said if "/causes/trend" in name or name.startswith("/pool_trend")}


def test_its_tables_are_to_the_last_index_those_of_a_new_pool(restored):
    if connection.vendor != "postgresql":
        pytest.skip("a restore on SQLite compares them itself")
    assert described() == restored


def test_it_holds_the_same_rows(then):
    with export_zip() as stream, zipfile.ZipFile(stream) as archive:
        now = {name: rows_of(archive.read(name).decode()) for name in archive.namelist()}
    before = {name: rows_of(text) for name, text in then["files"].items()}
    assert set(now) - set(before) == FILES_SINCE and now["notes.csv"] == []
    assert len(now["work_orders.csv"]) == then["rows"]["inspections.WorkOrderLine"]
    spares = CableSegment.objects.on_shelf(date.today()).values_list("serial", flat=True)
    told = [(row["segment"], row["reason"], row["depot"]) for row in now["stock.csv"]]
    assert told and sorted(told) == sorted((serial, "counted", "") for serial in spares)
    assert now["series.csv"] == [SERIES]
    for name, rows in before.items():
        expected = [in_todays_words(row) | COLUMNS_SINCE.get(name, {}) for row in rows]
        if name == "events.csv":
            expected = [row | series_of(row) for row in expected]
        if name in ("instruments.csv", "cable_types.csv", "mat_designs.csv"):
            expected = [row | withdrawal_of(row) for row in expected]
        if name == "segments.csv":
            expected = [row | {"serial_basis": basis_of_serial(row)} | withdrawal_of(row) for row in expected]
        if name == "usage.csv":
            usual = usual_events(then)
            expected = [row | {"basis": "usual"} if row["event"] in usual else row for row in expected]
        assert now[name] == sorted(expected, key=lambda row: sorted(row.items())), name


def basis_of_serial(row):
    """*Start here* gives running numbers; the cables that it makes are of the kind that nobody knows."""
    return "given" if row["cable_type"] == ASSUMED_CABLE else "own"


def series_of(row):
    of_it = row["name"] == SERIES["name"]
    return {"series": SERIES["series"] if of_it else "", "changed_alone": "yes" if row["event"] in ALONE else "no"}


def withdrawal_of(row):
    code = next(row[name] for name in ("segment", "instrument", "cable_type", "design") if name in row)
    return dict(zip(("withdrawn_on", "withdrawal_reason"), WITHDRAWN.get(code, ("", "")), strict=True))


def usual_events(then):
    """Codes of the events that *Start here* made: seven, of two mats each."""
    rows = rows_of(then["files"]["events.csv"])
    return {row["event"] for row in rows if row["name"] == "Usual use, as told at the start"}


def test_usual_use_that_was_told_at_the_start_is_usual_and_gives_way(then):
    rows = UsageEvent.objects.usual()
    assert {row.event.code for row in rows.select_related("event")} == usual_events(then)
    assert sorted(Counter(rows.values_list("mat__number", flat=True)).items()) == [("T-1", 7), ("T-2", 7)]
    # no two of them were in one month
    assert not UsageEvent.history.filter(history_change_reason="two of one month became one").exists()
    assert not MatDay.objects.filter(usage_event__in=rows).exists()
    first = rows.filter(mat__number="T-1").select_related("event", "mat").first()
    assert first in UsageEvent.objects.counted(ON)
    with transaction.atomic():
        event = Event.objects.create(code="E-HELD", name="Fen Half", starts_on=first.event.starts_on, ends_on=ON)
        UsageEvent.objects.create(event=event, mat=first.mat, state="planned")
        assert list(UsageEvent.objects.given_way(ON.replace(year=2027))) == [first]
        transaction.set_rollback(True)


def test_nothing_that_no_file_tells_is_lost(then):
    """Trails, accounts, loads, series, work orders: as many as there were, and what the renaming entered."""
    renamed = {}
    for row in RenamedCode.objects.all():
        trail = apps.get_model(row.model).history.model._meta.label
        # ü-1 had been corrected before: its trail had begun
        renamed[trail] = renamed.get(trail, 0) + (1 if row.was == "ü-1" else 2)
    # derived, and made anew by the first page
    ensure_assessed(ON)
    now = {label: apps.get_model(label)._base_manager.count() for label in then["rows"]}
    del now["auth.Permission"], then["rows"]["auth.Permission"]
    # the role that logs only
    then["rows"]["auth.Group"] += 1
    # usual use takes no day: seven of two mats
    then["rows"]["fleet.MatDay"] -= 14
    assert now == {label: count + renamed.get(label, 0) for label, count in then["rows"].items()}


def test_whoever_might_do_something_still_may(then):
    asked = (MAY_LOG, MAY_BENCH, MAY_KEEP)
    may = {user.username: [user.has_perm(permission) for permission in asked] for user in User.objects.all()}
    assert may == {"keeper": [True, True, True], "hand": [True, True, False], "gone": [False, False, False]}


def test_it_has_the_roles_of_today(then):
    has = {group.name: sorted(group.permissions.values_list("codename", flat=True)) for group in Group.objects.all()}
    assert has == {role: sorted(codenames) for role, codenames in ROLES.items()}


def test_no_row_and_no_trail_holds_a_word_of_then(then):
    ours = [model for app in ("fleet", "inspections") for model in apps.get_app_config(app).get_models()]
    models = [model for model in ours if model._meta.managed]
    rows = [repr(row) for model in models for row in model._base_manager.values_list()]
    assert [row for row in rows for word in (*WORDS, *NAMES) if f"'{word}'" in row] == []


def test_of_codes_that_differ_in_capitals_only_the_later_got_a_number(then):
    assert {row.was: row.now for row in RenamedCode.objects.all()} == CODES
    assert {row.was: row.same_as for row in RenamedCode.objects.filter(model="fleet.mat")} == {
        "m-1": "M-1",
        "ü-1": "Ü-1",
    }
    assert list(Mat.objects.order_by("pk").values_list("number", "number_key")[3:7]) == [
        ("m-1 (3)", "m-1 (3)"),
        ("Ü-1", "ü-1"),
        ("ü-1 (2)", "ü-1 (2)"),
        ("M-1 (2)", "m-1 (2)"),
    ]
    assert Event.objects.named("e-2026-01 (2)").get().name == "Bank run"
    assert Depot.objects.get(name="Quay Street (2)").mats.count() == 5


def test_the_trail_tells_of_the_new_code(then):
    newest, before, first = trail_of(Mat.objects.get(number="ü-1 (2)"))
    assert (newest.reason, [(change.old, change.new) for change in newest.changes]) == (
        "“ü-1” and “Ü-1” are the same but for capitals",
        [("ü-1", "ü-1 (2)")],
    )
    assert (before.reason, first.what) == ("asked them", "entered")
    assert [entry.what for entry in trail_of(Mat.objects.get(number="m-1 (3)"))] == ["corrected", "entered"]


def test_a_pool_that_had_no_mark_has_one_for_phones_now(then):
    assert Pool.objects.get().uid.version == 4
