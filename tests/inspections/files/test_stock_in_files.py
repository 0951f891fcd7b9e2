"""stock.csv: the ledger of the shelf; in, out and in again, and what cannot have been is refused."""

from datetime import date

import pytest
from pool_files import FULL, pool_files

from fleet.models import CableSegment, CableType, Depot, Mat, StockEntry
from fleet.models.stock import Pile
from fleet.selectors.shelf import shelf_by_kind
from fleet.services.fittings import fit_segment
from fleet.services.shelf import lie_there
from inspections.files.loading import check_pool_files, load_pool_files
from inspections.files.saving import export_folder

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
HEAD = "entry,day,depot,cable_type,length_m,change,segment,lot,reason,work_order,note"


def load(contents):
    return load_pool_files(contents, by=None, on=ON)


def stock(*lines):
    return {"stock.csv": "\n".join([HEAD, *lines, ""]).encode()}


def found(*lines):
    """(line, column, what was found, what is expected) of every error in these lines of a pool with C-3 to spare."""
    errors = check_pool_files(pool_files() | stock(*lines), on=ON).errors.in_order()
    return [(error.line, error.column, error.found, error.expected) for error in errors]


def entries():
    rows = StockEntry.objects.order_by("number")
    return [(row.number, row.change, row.left, row.segment and row.segment.serial, row.reason) for row in rows]


def test_without_the_file_each_spare_is_counted_and_nobody_said_where():
    load(pool_files())
    rows = StockEntry.objects.order_by("segment__serial")
    # C-2 came out of its mat and nobody threw it away
    assert [(row.segment.serial, row.reason, row.depot, row.day) for row in rows] == [
        ("C-2", "counted", None, ON),
        ("C-3", "counted", None, ON),
    ]


def test_the_ledger_of_the_file_is_that_of_the_pool():
    load(pool_files(**FULL))
    assert entries() == [
        (1, 20, 20, None, "received"),
        (2, -3, 17, None, "moved"),
        (3, 3, 3, None, "moved"),
        (4, 1, 1, "C-1", "received"),
        (5, -1, 0, "C-1", "fitted"),
        (7, 1, 1, "C-3", "counted"),
        (8, -2, 15, None, "scrapped"),
    ]
    thin = CableType.objects.get(name="thin")
    assert lie_there(Pile(thin, 0.6, Depot.objects.get(name="Quay Street"), "L 7")) == 15
    assert shelf_by_kind(ON) == {("thin", 0.6): 19}


def test_the_ledger_goes_out_in_and_out_again_as_it_was(tmp_path):
    load(pool_files(**FULL))
    export_folder(tmp_path / "first")
    first = {path.name: path.read_bytes() for path in (tmp_path / "first").iterdir()}
    assert b'8,2025-02-03,Quay Street,thin,0.6,-2,,L 7,scrapped,,"crushed, by a van"\r\n' in first["stock.csv"]
    files, stored = load(first)
    assert stored is None and files.table("stock.csv").existing.all()


def test_more_entries_go_on_where_the_stored_ones_end():
    load(pool_files(**FULL))
    more = "9,2026-01-05,Quay Street,thin,0.6,-15,,L 7,counted,,none left"
    load(stock(more))
    assert entries()[-1] == (9, -15, 0, None, "counted")
    errors = check_pool_files(stock("6,2026-01-05,,thin,0.6,4,,,received,,"), on=ON).errors.in_order()
    assert [(error.column, error.expected) for error in errors] == [
        ("entry", "a number above 9, the last entry stored: the ledger is only added to")
    ]


def test_a_spare_that_a_file_fits_leaves_the_shelf():
    load(pool_files())
    load({"fittings.csv": b"segment,fitted_on,mat,position\nC-3,2026-03-01,M-2,1\n"})
    assert entries()[-1][1:] == (-1, 0, "C-3", "fitted")
    assert StockEntry.objects.latest("number").day == date(2026, 3, 1)


@pytest.mark.parametrize(
    ("line", "column", "told", "expected"),
    [
        ("1,2026-01-05,,thin,0.6,0,,,counted,,x", "change", "“0”", "a number other than 0"),
        ("1,2026-01-05,,thin,0.6,2,C-3,,counted,,x", "change", "“2”", "1 or -1: it is one cable"),
        ("1,2026-01-05,,thin,0.6,-2,,,received,,", "change", "“-2” for received", "a number above 0"),
        ("1,2026-01-05,,thin,0.6,2,,,scrapped,,", "change", "“2” for scrapped", "a number below 0"),
        ("1,2026-01-05,,thin,0.6,2,,,counted,,", "note", "an empty cell", "why the count differs"),
        ("1,2026-01-05,,thin,0.60049,2,,,received,,", "length_m", "“0.60049”", "at most three decimals: 0.600"),
        ("1,2026-01-05,,thin,0.6,-2,,,fitted,,", "change", "“-2” with 0 of them there", "what lies there at most"),
        ("1,2026-10-05,,thin,0.6,2,,,received,,", "day", "“2026-10-05”", "day of the entry"),
        ("1,2026-01-05,,thin,0.6,two,,,received,,", "change", "“two”", "a whole number such as 4 or -4"),
        ("1,2026-01-05,,thin,0.6,2,,,bought,,", "reason", "“bought”", "one of: received, fitted"),
        ("1,2026-01-05,,thick,0.6,2,,,received,,", "cable_type", "“thick”", "a cable_type of cable_types.csv"),
        ("1,2026-01-05,,thin,0.6,1,C-1,,counted,,x", "change", "C-1 on the shelf", "in M-1 position 1"),
    ],
)
def test_what_cannot_have_been_is_refused(line, column, told, expected):
    (error,) = found(line)
    assert error[:2] == (2, column)
    assert told in error[2] and expected in error[3]


def test_a_cable_lies_on_the_shelf_once():
    line = "{},2026-01-05,,thin,0.6,1,C-3,,received,,"
    assert [error[2] for error in found(line.format(1), line.format(2))] == ["“1” with it there already"]


def test_a_spare_that_the_file_does_not_name_is_counted_beside_it():
    load(pool_files() | stock("4,2026-01-05,Quay Street,thin,0.6,1,C-3,,received,,"))
    assert entries() == [(4, 1, 1, "C-3", "received"), (5, 1, 1, "C-2", "counted")]


def test_what_is_loaded_can_be_fitted():
    load(pool_files(**FULL))
    fit_segment(CableSegment.objects.get(serial="C-3"), Mat.objects.get(number="M-2"), 1, by=None, on=ON, fitted_on=ON)
    assert entries()[-1] == (9, -1, 0, "C-3", "fitted")
