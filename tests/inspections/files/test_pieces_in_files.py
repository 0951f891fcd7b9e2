"""Reference pieces, their readings and what was said of bench days: in, out, and in again as they were."""

from datetime import date

import pytest
from django.db import transaction
from pool_files import FULL, pool_files

from inspections.deleting.load_selectors import brought, taking_back
from inspections.deleting.load_services import take_back
from inspections.files.loading import check_pool_files, load_pool_files
from inspections.files.saving import export_folder
from inspections.models import AgreedValue, Assessment, BenchDaySaid, ReferencePiece, ReferenceReading

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
FILES = {name: FULL[name] for name in ("reference_pieces", "reference_readings", "bench_days")}


def load(**changes):
    return load_pool_files(pool_files(**FILES | changes), by=None, on=ON)


def errors_of(**changes):
    errors = check_pool_files(pool_files(**FILES | changes), on=ON).errors.in_order()
    return [(error.file.removesuffix(".csv"), error.line, error.column) for error in errors]


def exported(folder):
    export_folder(folder)
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_piece_comes_in_with_every_value_that_was_ever_agreed():
    load()
    piece = ReferencePiece.objects.get(name="Q-ref")
    assert piece.depot.name == "Quay Street"
    assert list(piece.values.values_list("agreed_on", "agreed_loss_db", "uncertainty_db", "basis")) == [
        (date(2025, 1, 1), 1.42, 0.02, "certificate 12"),
        (date(2026, 1, 1), 1.45, 0.01, "=mean of ten"),
    ]
    lost = ReferencePiece.objects.get(name="A-3dB")
    assert (lost.withdrawn_on, lost.withdrawal_reason) == (date(2026, 8, 1), "lost")
    assert lost.values.get().agreed_loss_db is None
    assert AgreedValue.objects.filter(load=None).count() == 0


def test_what_was_said_of_a_bench_day_decides_as_if_it_was_said_on_its_page():
    load()
    # C-1 was read on that day alone; the piece was 0.38 dB off, and somebody looked at it on the day after
    assert Assessment.objects.get(segment__serial="C-1").verdict == "within"
    BenchDaySaid.objects.all().delete()
    again = FILES["bench_days"].replace("2025-06-02,loose adapter,", ",,")
    load_pool_files({"bench_days.csv": again.encode()}, by=None, on=ON)
    assert Assessment.objects.get(segment__serial="C-1").verdict == ""


def test_a_file_from_before_marks_had_days_marks_from_the_bench_day_on():
    rows = "measured_on,instrument,not_trusted_reason\n2025-06-01,bridge 1,lead crushed\n"
    load(bench_days=rows)
    said = BenchDaySaid.objects.get()
    assert (said.not_trusted_on, said.not_trusted_by(said.measured_on)) == (None, "lead crushed")


def test_they_go_out_in_and_out_again_as_they_were(tmp_path):
    with transaction.atomic():
        load()
        first = exported(tmp_path / "first")
        transaction.set_rollback(True)
    assert b"A-3dB,2026-01-01,,,,,2026-08-01,lost\r\n" in first["reference_pieces.csv"]
    assert b"2026-06-01,,,,lead crushed,2026-06-03\r\n" in first["bench_days.csv"]
    load_pool_files(first, by=None, on=ON)
    assert exported(tmp_path / "again") == first
    _, stored = load_pool_files(first, by=None, on=ON)
    assert stored is None, "every row is there already"


def test_a_stored_piece_takes_a_further_value():
    load()
    row = "Q-ref,2026-09-01,1.5,0.02,Quay Street,,,\n"
    load(reference_pieces=FILES["reference_pieces"] + row)
    assert ReferencePiece.objects.count() == 2
    assert ReferencePiece.objects.get(name="Q-ref").values.last().agreed_loss_db == 1.5
    elsewhere = row.replace("2026-09-01", "2026-09-02").replace("Quay Street", "Upper Mill")
    (error,) = check_pool_files(
        {"reference_pieces.csv": (FILES["reference_pieces"].partition("\n")[0] + "\n" + elsewhere).encode()}, on=ON
    ).errors.in_order()
    assert (error.column, error.found) == ("depot", "“Upper Mill”")
    assert error.expected == "“Quay Street”, as stored of Q-ref; correct it on its page"


HEAD = {name: text.partition("\n")[0] + "\n" for name, text in FILES.items()}


@pytest.mark.parametrize(
    ("file", "rows", "wrong"),
    [
        ("reference_pieces", "Q,2025-01-01,1.4,,,,,\n", ["uncertainty_db"]),
        ("reference_pieces", "Q,2025-01-01,,0.02,,,,\n", ["agreed_loss_db"]),
        ("reference_pieces", "Q,2025-01-01,1.4,0,,,,\n", ["uncertainty_db"]),
        ("reference_pieces", "Q,2027-01-01,1.4,0.02,,,,\n", ["agreed_on"]),
        ("reference_pieces", "Q,2025-01-01,100,0.02,,,,\n", ["agreed_loss_db"]),
        ("reference_pieces", "Q,2025-01-01,1.4,0.02,,,,lost\n", ["withdrawn_on"]),
        ("reference_readings", "Q-ref,2025-06-01,1,,\n", ["loss_db"]),
        ("reference_readings", "Q-ref,2025-06-01,1,over,\n", ["loss_db"]),
        ("reference_readings", "Q-ref,2025-06-01,0,1.4,\n", ["repeat"]),
        ("reference_readings", "other,2025-06-01,1,1.4,\n", ["piece"]),
        ("reference_readings", "Q-ref,2025-06-01,1,1.4,none such\n", ["instrument"]),
        ("bench_days", "2025-06-01,none such,,,,\n", ["instrument"]),
        ("bench_days", "2025-06-01,,2025-05-31,,,\n", ["looked_on"]),
        ("bench_days", "2025-06-01,,2026-10-01,,,\n", ["looked_on"]),
        ("bench_days", "2025-06-01,,,loose adapter,,\n", ["looked_on"]),
        ("bench_days", "2026-10-01,,,,,\n", ["measured_on"]),
        ("bench_days", "2025-06-01,,,,a,\n2025-06-01,,,,b,\n", ["measured_on"]),
        ("bench_days", "2025-06-01,,,,crushed,2025-05-31\n", ["not_trusted_on"]),
        ("bench_days", "2025-06-01,,,,crushed,2026-10-01\n", ["not_trusted_on"]),
        ("bench_days", "2025-06-01,,,,,2025-06-02\n", ["not_trusted_reason"]),
    ],
)
def test_what_cannot_be_is_refused_at_its_cell(file, rows, wrong):
    found = errors_of(**{file: HEAD[file] + rows, **_without_readings(file)})
    assert [(each[0], each[2]) for each in found] == [(file, column) for column in wrong]


def _without_readings(file):
    """Where the pieces are others, none of their readings."""
    return {"reference_readings": HEAD["reference_readings"]} if file == "reference_pieces" else {}


def test_rows_of_one_piece_tell_the_same_of_it():
    rows = "Q,2025-01-01,1.4,0.02,Quay Street,,,\nQ,2026-01-01,1.4,0.02,,,,\n"
    changes = {"reference_pieces": HEAD["reference_pieces"] + rows, "reference_readings": HEAD["reference_readings"]}
    assert errors_of(**changes) == [("reference_pieces", 3, "depot")]


def test_a_load_is_taken_back_with_its_pieces(keeper):
    _, stored = load()
    counts = dict(brought(stored))
    assert {counts[name] for name in ("reference pieces", "words on bench days")} == {2}
    assert (counts["agreed values"], counts["reference readings"]) == (3, 3)
    take_back(stored, by=keeper, on=ON, reason="another pool")
    left = [model.objects.count() for model in (ReferencePiece, AgreedValue, ReferenceReading, BenchDaySaid)]
    assert left == [0, 0, 0, 0]


def test_a_piece_that_was_read_since_stands_against_it():
    _, stored = load()
    piece = ReferencePiece.objects.get(name="Q-ref")
    ReferenceReading.objects.create(piece=piece, measured_on=ON, loss_db=1.46)
    (standing,) = taking_back(stored).stands
    assert standing.url == "/bench/pieces/Q-ref/" and "Q-ref on 30 Sep 2026: 1.46 dB" in standing.sentence
