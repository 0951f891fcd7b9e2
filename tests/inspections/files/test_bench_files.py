"""Instruments by kind, methods and words of go/no-go testers in files."""

import io
from datetime import date

import pytest
from pool_files import pool_files

from fleet.intake import write_file
from inspections.files.loading import check_pool_files, load_pool_files
from inspections.files.sets import INSTRUMENTS, MEASUREMENTS
from inspections.models import Assessment, Instrument, Measurement

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)

BENCH = """instrument,standard_uncertainty_db,kind,set_limit_db,repeatability_db,leads_taken_out
bridge 1,0.1,,,,
desk,,two-port,,0.04,yes
pocket,,one-port,,,
tester,,go/no-go,3,,
"""
READINGS = """segment,measured_on,repeat,loss_db,instrument,method
C-1,2026-09-01,1,over,tester,
C-2,2026-09-01,1,3.2,pocket,far end open
C-2,2026-09-02,1,9,desk,not referenced
C-2,2026-09-03,1,no signal,,on its element
"""


def load(**files):
    return load_pool_files(pool_files(**files), by=None, on=ON)


def errors_of(**files):
    checked = check_pool_files(pool_files(**files), on=ON)
    return [(error.file, error.line, error.column) for error in checked.errors.in_order()]


def written(layout):
    stream = io.StringIO(newline="")
    write_file(layout, stream)
    return stream.getvalue()


def test_what_an_instrument_is_and_says_comes_in_and_goes_out_unchanged():
    load(instruments=BENCH, measurements=READINGS)
    files = {layout.file: written(layout) for layout in (INSTRUMENTS, MEASUREMENTS)}
    names = [line.split(",")[:6] for line in files["instruments.csv"].splitlines()]
    assert names[1:] == [
        ["bridge 1", "0.1", "", "", "", "no"],
        ["desk", "", "two-port", "", "0.04", "yes"],
        ["pocket", "", "one-port", "", "", "no"],
        ["tester", "", "go/no-go", "3.0", "", "no"],
    ]
    again, stored = load_pool_files({name: text.encode() for name, text in files.items()}, by=None, on=ON)
    assert (stored, [error.found for error in again.errors.in_order()]) == (None, [])


HEAD = "segment,measured_on,repeat,loss_db,instrument,method\n"


def newest_of(readings):
    load(instruments=BENCH, measurements=HEAD + readings)
    row = Assessment.objects.get(segment__serial="C-1")
    return row.verdict, row.loss_due_on, row.loss_db


def test_a_word_decides_and_is_no_number():
    assert newest_of("C-1,2026-09-01,1,over,tester,\n") == ("over", date(2026, 9, 1), None)
    said = Measurement.objects.get(segment__serial="C-1")
    assert (said.loss_db, said.no_signal, said.go_no_go) == (None, False, "over")


def test_a_return_loss_counts_by_half_and_what_was_not_referenced_not_at_all():
    readings = "C-1,2026-09-01,1,3.2,pocket,far end open\nC-1,2026-09-02,1,9,desk,not referenced\n"
    assert newest_of(readings) == ("within", None, 1.6)


def test_a_word_that_differs_from_the_stored_one_is_refused_with_both():
    load(instruments=BENCH, measurements=READINGS)
    other = READINGS.replace("over", "within")
    checked = check_pool_files(pool_files(instruments=BENCH, measurements=other), on=ON)
    assert [(e.line, e.column, e.found) for e in checked.errors.in_order()] == [
        (2, "loss_db", "“within” for C-1, 2026-09-01, 1")
    ]
    assert "“over”, as stored" in checked.errors.in_order()[0].expected


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("desk,,,,", "standard_uncertainty_db"),
        ("desk,,two-port,3,", "set_limit_db"),
        ("desk,,go/no-go,,", "set_limit_db"),
        ("desk,,go/no-go,0,", "set_limit_db"),
        ("desk,,clock,,", "kind"),
        ("desk,0.1,,,-1", "repeatability_db"),
    ],
)
def test_what_no_instrument_can_be_is_named(row, column):
    head = "instrument,standard_uncertainty_db,kind,set_limit_db,repeatability_db\nbridge 1,0.1,,,\n"
    assert errors_of(instruments=f"{head}{row}\n") == [("instruments.csv", 3, column)]


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("C-1,2026-09-01,within,,", "loss_db"),
        ("C-1,2026-09-01,over,desk,", "loss_db"),
        ("C-1,2026-09-01,perhaps,tester,", "loss_db"),
        ("C-1,2026-09-01,1.3,desk,sideways", "method"),
    ],
)
def test_what_no_reading_can_be_is_named(row, column):
    readings = f"segment,measured_on,loss_db,instrument,method\n{row}\n"
    assert errors_of(instruments=BENCH, measurements=readings) == [("measurements.csv", 2, column)]


def test_an_instrument_that_is_stored_is_a_tester_for_later_files():
    load(instruments=BENCH)
    readings = READINGS.replace("far end open", "")
    assert errors_of(measurements=readings, instruments=BENCH) == []
    assert Instrument.objects.get(name="tester").set_limit_db == 3.0
