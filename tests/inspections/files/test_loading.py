"""Files of the whole pool: the case pool in and out, readings and policy beside the register."""

import hashlib
import io
from datetime import date
from pathlib import Path

import pandas as pd
import pytest
from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from factories import set_policy_value
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from pool_files import FULL, pool_files, row_counts, write_folder
from sizes import examples

from fleet.intake import FilesRefused, store_files, write_file
from fleet.models import (
    CableSegment,
    Depot,
    Event,
    Fault,
    Fitting,
    Load,
    Mat,
    MatDay,
    MatDesign,
    Note,
    StockEntry,
    UsageEvent,
)
from fleet.services.register import correct_mat
from fleet.services.use_of_months import say_months
from fleet.services.usual_use import say_usual_use
from fleet.validators import UNSEEN
from inspections.assessment.policy_in_force import current_policy
from inspections.files.loading import check_pool_files, load_pool_files
from inspections.files.saving import export_folder
from inspections.files.sets import LAYOUTS
from inspections.models import Assessment, Measurement, PolicyValue, WorkOrder, WorkOrderLine

pytestmark = pytest.mark.django_db
CASE = Path(__file__).parents[2] / "data/pool"
ON = date(2026, 9, 30)


def load(contents, on=ON, by=None):
    return load_pool_files(contents, by=by, on=on)


def case_files():
    return {path.name: path.read_bytes() for path in CASE.glob("*.csv")}


def errors_of(contents):
    files = check_pool_files(contents, on=ON)
    return [(error.file, error.line, error.column) for error in files.errors.in_order()]


def exported():
    """{file: bytes} of the pool as it is stored."""
    contents = {}
    for layout in LAYOUTS:
        stream = io.StringIO(newline="")
        write_file(layout, stream)
        contents[layout.file] = stream.getvalue().encode()
    return contents


def test_the_case_pool_is_stored_row_for_row():
    """Counted independently: the rows that pandas finds in each file."""
    load(case_files())
    depots = pd.read_csv(CASE / "mats.csv", dtype=str)["depot"].dropna().nunique()
    assert Depot.objects.count() == depots > 0
    for layout in [layout for layout in LAYOUTS if layout.model is not Depot]:
        path = CASE / layout.file
        expected = len(pd.read_csv(path, dtype=str)) if path.exists() else 0
        if layout.model is StockEntry:
            # the case has no ledger: each spare is entered as counted
            expected = CableSegment.objects.on_shelf(ON).count()
        assert layout.model.objects.count() == expected, layout.file


def test_the_case_pool_is_assessed_with_the_load():
    load(case_files())
    expected = pd.read_csv(CASE.parent / "pool_expected/expected.csv", dtype=str)
    assert set(Assessment.objects.values_list("segment__serial", flat=True)) == set(expected["segment"])


def test_readings_of_the_case_pool_hold_what_their_file_says():
    """Against pandas' own reading of the file: losses, no signal, and notes that begin like formulas."""
    load(case_files())
    frame = pd.read_csv(CASE / "measurements.csv", dtype=str, keep_default_na=False)
    rows = Measurement.objects.values_list("segment__serial", "measured_on", "repeat", "loss_db", "no_signal")
    stored = {(s, str(d), str(n)): (loss, none) for s, d, n, loss, none in rows}
    for row in frame.itertuples():
        none = row.loss_db == "no signal"
        assert stored[row.segment, row.measured_on, row.repeat] == (None if none else float(row.loss_db), none)
    # a note is written with one ' before = + - @ and '
    notes = [note[1:] if note[:1] == "'" and note[1:2] in tuple("=+-@'") else note for note in frame["note"]]
    assert sorted(Measurement.objects.values_list("note", flat=True)) == sorted(notes)


def case_files_with_policy():
    return case_files() | {"policy.csv": pool_files()["policy.csv"].replace(b",four,", b",seven,")}


@pytest.mark.parametrize("files", [case_files_with_policy, lambda: pool_files(**FULL)], ids=["case pool", "full pool"])
def test_export_then_load_into_an_empty_pool_then_export_is_identical(files):
    with transaction.atomic():
        load(files())
        first = exported()
        transaction.set_rollback(True)
    assert not CableSegment.objects.exists()
    load(first)
    assert exported() == first
    before = row_counts()
    assert load(first)[1] is None
    assert (exported(), row_counts()) == (first, before)


def test_what_a_mat_held_under_another_design_goes_out_and_comes_back(keeper):
    one = "four,1,0.6,thin\nfour,2,1.1,thin\none,1,0.6,thin\n"
    with transaction.atomic():
        load(
            pool_files(
                mat_designs="design\nfour\none\n",
                positions=f"design,position,length_m,cable_type\n{one}",
                faults="mat,reported_on,fault,position,place,ended_on,end_reason\n"
                "M-1,2024-05-05,1,2,connector,2024-05-06,repair\n",
            )
        )
        correct_mat(Mat.objects.get(number="M-1"), by=keeper, on=ON, design=MatDesign.objects.get(code="one"))
        first = exported()
        transaction.set_rollback(True)
    files, _ = load(first)
    assert exported() == first
    said = [(note.file, note.line, note.found) for note in files.warnings.in_order() if note.column == "position"]
    assert said == [("faults.csv", 2, "“2” of M-1"), ("fittings.csv", 3, "“2” of M-1")]


def test_the_full_pool_is_stored_cell_for_cell():
    """Against pandas: the cells of the files, in the order of their keys."""
    load(pool_files(**FULL))
    now = exported()
    for name, text in FULL.items():
        expected = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)
        stored = pd.read_csv(io.BytesIO(now[f"{name}.csv"]), dtype=str, keep_default_na=False)
        key = [column.name for layout in LAYOUTS if layout.file == f"{name}.csv" for column in layout.key]
        expected = expected.sort_values(key, ignore_index=True)
        pd.testing.assert_frame_equal(stored[list(expected.columns)], expected)


def test_usual_use_and_what_was_said_of_months_come_back_from_files_and_count_as_before():
    def counted():
        return sorted(Assessment.objects.values_list("segment__serial", "event_count", "given_way"))

    def days():
        return sorted(MatDay.objects.values_list("mat__number", "day", "usage_event__event__code"))

    with transaction.atomic():
        load(pool_files())
        mat = Mat.objects.get(number="M-1")
        say_usual_use(mat, 40, by=None, on=ON)
        say_usual_use(mat, 5, by=None, on=ON)
        months = {date(2026, 7, 1): 4, date(2026, 6, 1): 0}
        say_months(mat, months, last=ON, by=None, on=ON)
        first, before = exported(), (counted(), days())
        assert b",went,1,usual," in first["usage.csv"] and b",called off,3,usual," in first["usage.csv"]
        transaction.set_rollback(True)
    load(first)
    assert exported() == first
    assert (counted(), days()) == before


def test_an_empty_pool_exports_headers_that_load_again():
    first = exported()
    assert [content.count(b"\r\n") for content in first.values()] == [1] * len(LAYOUTS)
    files, stored = load(first)
    assert (files.errors.count, stored) == (0, None)


text = st.builds(
    str.__add__,
    st.sampled_from(["", "=", "+", "-", "@", "'", "''", '"', ";"]),
    st.text(st.characters(), max_size=40).filter(lambda text: not UNSEEN.search(text)),
)


# what people type, where any text may stand
TYPED = (
    (Measurement.objects, "note"),
    (Fault.objects, "what"),
    (Mat.objects, "owner"),
    (CableSegment.objects, "lot"),
    (Event.objects, "place"),
    (Note.objects, "written_by"),
    (Fitting.objects, "remark"),
    (CableSegment.objects.exclude(withdrawn_on=None), "withdrawal_reason"),
    (WorkOrder.objects, "given_to"),
    (WorkOrderLine.objects.filter(is_open=False, done_on=None), "left_reason"),
    (WorkOrderLine.objects, "answered_by"),
)


@settings(max_examples=examples(8), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(said=st.lists(text, min_size=len(TYPED), max_size=len(TYPED)))
@example(said=["=1+1", "\u00a0", "'", "''=", "-1", "@", "+", "-", '"', ";", "''"])
def test_any_text_that_may_be_typed_survives_export_and_load(said):
    with transaction.atomic():
        load(pool_files(**FULL))
        for (rows, field), value in zip(TYPED, said, strict=True):
            rows.update(**{field: value})
        first = exported()
        transaction.set_rollback(True)
    with transaction.atomic():
        load(first)
        assert exported() == first
        kept = [set(rows.all().values_list(field, flat=True)) for rows, field in TYPED]
        transaction.set_rollback(True)
    assert kept == [{value} for value in said]


def test_codes_that_look_like_formulas_survive_too():
    load(pool_files(mats="mat,design,depot\n'-12,four,'@home\nM-1,four,\nM-2,four,\n"))
    assert Mat.objects.get(number="-12").depot.name == "@home"
    assert b"\r\n'-12,four,'@home," in exported()["mats.csv"]


def test_negative_numbers_are_not_guarded():
    load(pool_files(measurements="segment,measured_on,loss_db,temperature_c\nC-1,2025-06-01,0.71,-5\n"))
    assert Measurement.objects.get().temperature_c == -5
    assert b",-5.0," in exported()["measurements.csv"]


def test_semicolons_with_decimal_commas_mean_the_same():
    load(pool_files())
    plain = exported()["measurements.csv"].decode()
    other = plain.replace(",", ";").replace(".", ",").encode()
    files, stored = load({"measurements.csv": other})
    assert stored is None
    assert files.table("measurements.csv").existing.all()


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
def test_other_encodings_mean_the_same(encoding):
    contents = pool_files(instruments="instrument,standard_uncertainty_db\nMeßbrücke,0.1\nbridge 1,0.1\n")
    load({name: content.decode().encode(encoding) for name, content in contents.items()})
    rows = exported()["instruments.csv"].decode().splitlines()[1:]
    assert [row.split(",")[:2] for row in rows] == [["Meßbrücke", "0.1"], ["bridge 1", "0.1"]]


def test_every_row_knows_its_load_and_who_sent_it(keeper):
    _, stored = load(pool_files(**FULL), by=keeper)
    for layout in LAYOUTS:
        of_head = layout.head and not layout.grows
        names = [f"{layout.head}__{name}" if of_head else name for name in ("load", "recorded_by")]
        assert set(layout.model.objects.values_list(*names)) == {(stored.pk, keeper.pk)}, layout.file
    sha256 = hashlib.sha256(pool_files()["mats.csv"]).hexdigest()
    assert stored.files["mats.csv"] == {"sha256": sha256, "rows": 2, "stored": 2, "already_there": 0}


def test_a_load_leaves_no_history_rows():
    load(pool_files())
    assert {name: count for name, count in row_counts().items() if name.startswith("Historical") and count} == {}


def test_equal_rows_are_skipped_and_counted():
    load(pool_files())
    before = row_counts()
    more = pool_files()["segments.csv"] + b"C-4,thin,0.6\n"
    _, stored = load({"segments.csv": more})
    assert stored.files["segments.csv"] | {"sha256": ""} == {"sha256": "", "rows": 4, "stored": 1, "already_there": 3}
    assert row_counts() == before | {"CableSegment": 4, "Load": 2, "StockEntry": before["StockEntry"] + 1}


@pytest.mark.parametrize(
    ("name", "text", "expected"),
    [
        ("measurements", "segment,measured_on,loss_db\nC-1,2026-10-01,0.7\n", [(2, "measured_on")]),
        ("measurements", "segment,measured_on,loss_db\nC-1,2025-06-01,-0.7\n", [(2, "loss_db")]),
        ("measurements", "segment,measured_on,loss_db\nC-1,2025-06-01,\n", [(2, "loss_db")]),
        ("measurements", "segment,measured_on,loss_db\nC-1,2025-06-01,131\n", [(2, "loss_db")]),
        ("measurements", "segment,measured_on,loss_db\nC-1,2025-06-01,nan\n", [(2, "loss_db")]),
        ("measurements", "segment,measured_on,loss_db,frequency_mhz\nC-1,2025-06-01,1,0\n", [(2, "frequency_mhz")]),
        ("measurements", "segment,measured_on,loss_db,temperature_c\nC-1,2025-06-01,1,400\n", [(2, "temperature_c")]),
        ("measurements", "segment,measured_on,loss_db,taken\nC-1,2025-06-01,1,twice\n", [(2, "taken")]),
        ("measurements", "segment,measured_on,loss_db,instrument\nC-1,2025-06-01,1,other\n", [(2, "instrument")]),
        ("measurements", "segment,measured_on,loss_db\nC-1,2025-06-01,1\nC-1,2025-06-01,1\n", [(3, "segment")]),
        ("measurements", "segment,measured_on,loss_db,voided_on\nC-1,2025-06-01,1,2025-05-01\n",
         [(2, "voided_on")]),
        ("instruments", "instrument,standard_uncertainty_db\nbridge 1,0\n", [(2, "standard_uncertainty_db")]),
        ("policy", "setting,value\ncolour,1\n", [(2, "setting")]),
        ("policy", "setting,value\ndetection_goal,0.99\n", [(2, "setting")]),
        ("policy", "setting,value\nevent_limit,-1\n", [(2, "value")]),
        ("policy", "setting,value\nevent_limit,1.5\n", [(2, "value")]),
        ("policy", "setting,value,design\nlook_ahead_days,30,four\n", [(2, "design")]),
        ("policy", "setting,value,depot\nevent_limit,30,Upper Mill\n", [(2, "depot")]),
        ("policy", "setting,value,design,depot\nevent_limit,30,four,Upper Mill\n", [(2, "depot")]),
        ("policy", "setting,value\nevent_limit,100\nevent_limit,100\n", [(3, "setting")]),
        ("policy", "setting,value,position\nevent_limit,30,1\n", [(2, "position")]),
        ("policy", "setting,value,design,position\nloss_limit_db,2,four,1\n", [(2, "position")]),
        ("policy", "setting,value,design,position\nevent_limit,30,four,99\n", [(2, "position")]),
        ("policy", "setting,value,design,position\nage_limit_years,0.05,four,1\n", [(2, "value")]),
        ("policy", "setting,value,design,position\nloss_limit_db,0,four,\n", [(2, "value")]),
    ],
)  # fmt: skip
def test_errors_of_readings_and_policy_are_named(name, text, expected):
    assert errors_of(pool_files(**{name: text})) == [(f"{name}.csv", *place) for place in expected]


def test_an_unlikely_loss_is_noted_and_taken():
    contents = pool_files(measurements="segment,measured_on,loss_db\nC-1,2025-06-01,22.7\n")
    files, stored = load(contents)
    assert [(note.line, note.column, note.found) for note in files.warnings.in_order()] == [(2, "loss_db", "22.7 dB")]
    assert stored is not None


def test_a_setting_that_is_no_more_stands_in_no_file():
    PolicyValue.objects.create(setting="detection_goal", value=0.99)
    PolicyValue.objects.create(setting="event_limit", value=120)
    assert exported()["policy.csv"].decode().splitlines() == [
        "setting,value,design,position,depot",
        "event_limit,120.0,,,",
    ]


def test_policy_belongs_to_pool_design_or_depot():
    load(pool_files())
    rows = PolicyValue.objects.values_list("setting", "value", "design__code", "depot__name")
    assert sorted(rows, key=str) == [
        ("event_limit", 100.0, "four", None),
        ("event_limit", 120.0, None, None),
        ("has_bench", 0.0, None, "Upper Mill"),
    ]


def test_limits_of_positions_and_limits_that_are_off_come_back_as_they_went():
    rows = "age_limit_years,0,,,\nage_limit_years,2.3,four,1,\nevent_limit,0,four,2,\nevent_limit,90,four,,\n"
    load(pool_files(policy=f"setting,value,design,position,depot\n{rows}"))
    first = exported()
    with transaction.atomic():
        PolicyValue.objects.all().delete()
        load({"policy.csv": first["policy.csv"]})
    assert exported() == first
    policy, design = current_policy(), MatDesign.objects.get(code="four").pk
    assert [policy.value("age_limit_years", design, position=number) for number in (1, 2)] == [2.3, 0]
    assert [policy.value("event_limit", design, position=number) for number in (1, 2)] == [90, 0]


def test_a_position_that_is_not_there_is_told_with_those_that_are():
    with pytest.raises(FilesRefused) as refusal:
        load(pool_files(policy="setting,value,design,position\nevent_limit,30,four,99\n"))
    (error,) = refusal.value.files.errors.in_order()
    assert (error.found, error.expected) == ("“99”", "a position of four: 1, 2")


def test_a_cleared_value_is_in_no_file_and_may_be_loaded_anew(keeper, on):
    for setting, value in (("age_limit_years", 4), ("event_limit", 90), ("age_limit_years", None)):
        set_policy_value(setting, value, by=keeper, on=on)
    assert exported()["policy.csv"].decode().split() == ["setting,value,design,position,depot", "event_limit,90.0,,,"]
    load({"policy.csv": b"setting,value\nage_limit_years,6\n"})
    assert current_policy().value("age_limit_years") == 6


def test_nothing_is_stored_when_one_row_of_many_is_wrong():
    before = row_counts()
    with pytest.raises(FilesRefused) as refusal:
        load(pool_files(policy="setting,value\nevent_limit,-1\n"))
    assert refusal.value.files.errors.count == 1
    assert row_counts() == before


def test_rows_that_somebody_else_stored_since_the_check_refuse_the_whole_set():
    files = check_pool_files(pool_files(), on=ON)
    load({"events.csv": pool_files()["events.csv"]})
    before = row_counts()
    with pytest.raises(ValidationError, match="Somebody stored some of these rows meanwhile"), transaction.atomic():
        store_files(files, by=None)
    assert row_counts() == before


def test_a_check_asks_the_database_as_often_for_many_rows_as_for_one():
    def queries(rows):
        lines = "".join(f"E-1{number},M-1,planned\n" for number in range(rows))
        events = "".join(f"E-1{n},a,20{10 + n}-01-01,20{10 + n}-01-01\n" for n in range(rows))
        notes = "".join(f"N-{n},2025-01-01,event,E-1{n},x\n" for n in range(rows))
        contents = pool_files(
            usage="event,mat,state\n" + lines,
            events="event,name,starts_on,ends_on\n" + events,
            notes="note,on,about,code,text\n" + notes,
        )
        with CaptureQueriesContext(connection) as context:
            assert check_pool_files(contents, on=ON).errors.count == 0
        return len(context)

    assert queries(1) == queries(3) == queries(50)


def test_storing_asks_the_database_as_often_for_many_rows_as_for_one():
    def queries(start, rows):
        lines = "".join(f"C-1,2025-01-01,{start + number},0.7\n" for number in range(rows))
        contents = {"measurements.csv": ("segment,measured_on,repeat,loss_db\n" + lines).encode()}
        with CaptureQueriesContext(connection) as context:
            load(contents)
        return len(context)

    load(pool_files())
    assert queries(10, 1) == queries(20, 3) == queries(30, 25)


def test_event_counts_are_those_of_the_file():
    """Against pandas: the counts_for of each mat's usage events that went."""
    load(case_files())
    frame = pd.read_csv(CASE / "usage.csv")
    expected = frame[frame.state == "went"].groupby("mat").counts_for.sum().to_dict()
    counted = {}
    for mat, counts_for in UsageEvent.objects.filter(state="went").values_list("mat__number", "counts_for"):
        counted[mat] = counted.get(mat, 0) + counts_for
    assert counted == expected


def test_export_does_not_write_over_files(tmp_path):
    folder = write_folder(tmp_path / "out", {"mats.csv": b"mine"})
    with pytest.raises(ValidationError, match=r"holds mats\.csv already"):
        export_folder(folder)
    assert [path.name for path in folder.iterdir()] == ["mats.csv"]
    assert (folder / "mats.csv").read_bytes() == b"mine"


def test_exported_folder_holds_all_files(tmp_path):
    load(pool_files())
    counts = export_folder(tmp_path / "new" / "folder")
    assert {path.name: path.read_bytes() for path in (tmp_path / "new" / "folder").iterdir()} == exported()
    assert counts["segments.csv"] == 3
    assert Load.objects.count() == 1


def test_recorded_at_is_the_time_of_the_load():
    before = timezone.now()
    _, stored = load(pool_files())
    assert before <= stored.loaded_at
    assert set(Mat.objects.values_list("recorded_at", flat=True)) == {stored.loaded_at}


def test_rows_go_out_in_order_of_their_key_however_they_came_in():
    rows = "C-3,thin,0.6\nc-4,thin,1\nC-10,thin,2\nC-2,thin,1\nC-1,thin,1\n"
    load(pool_files(segments="segment,cable_type,length_m\n" + rows))
    codes = [line.split(",")[0] for line in exported()["segments.csv"].decode().splitlines()[1:]]
    assert codes == ["C-1", "C-10", "C-2", "C-3", "c-4"]


def test_days_at_the_ends_of_what_a_year_may_be_are_taken():
    contents = pool_files(
        fittings="segment,fitted_on,mat,position\nC-1,1900-01-01,M-1,1\nC-2,1900-02-28,M-1,2\n",
        events="event,name,starts_on,ends_on\nE-1,a,1900-01-01,1900-01-02\nE-3,b,2199-12-30,2199-12-31\n",
    )
    load_pool_files(contents, by=None, on=ON, meant=True)
    assert set(Assessment.objects.values_list("segment__serial", flat=True)) == {"C-1", "C-2"}
    assert b"E-3,b,2199-12-30,2199-12-31," in exported()["events.csv"]


def test_days_at_the_ends_of_the_calendar_are_no_days_of_a_pool():
    contents = pool_files(
        fittings="segment,fitted_on,mat,position\nC-1,0001-01-01,M-1,1\n",
        events="event,name,starts_on,ends_on\nE-1,a,1899-12-31,1900-01-01\nE-3,b,9999-12-30,9999-12-31\n",
    )
    errors = check_pool_files(contents, on=ON, meant=True).errors.in_order()
    assert [(error.file, error.line, error.column) for error in errors] == [
        ("events.csv", 2, "starts_on"),
        ("events.csv", 3, "starts_on"),
        ("events.csv", 3, "ends_on"),
        ("fittings.csv", 2, "fitted_on"),
    ]
