"""Files against rows that the pool has already: what differs, and what becomes of it."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from fleet.intake import FILL_EMPTY, LAYOUTS, RULES, Answer, Differing, RawTable, check_files, store_files
from fleet.models import Fitting, Mat, MatDay, StockEntry
from fleet.selectors.trail import trail_of
from inspections.files.sets import LAYOUTS as ALL_LAYOUTS
from inspections.files.sets import RULES as ALL_RULES
from tests.invariant_rows import broken_rows
from tests.invariants import days_are_those_of_usage
from tests.pool_files import pool_files

pytestmark = pytest.mark.django_db

ON = date(2026, 11, 24)
MATS = "mat,design,depot,owner,acquired_on\n"


@pytest.fixture
def pool():
    store_files(check_files(pool_files(), LAYOUTS, RULES, on=ON), by=None)


def check(differing, **files):
    contents = {f"{name}.csv": text.encode() for name, text in files.items()}
    return check_files(contents, LAYOUTS, RULES, on=ON, differing=differing)


def said(files):
    return [(d.file, d.line, d.column, d.stored, d.given, str(d.becomes)) for d in files.differences]


def test_a_table_of_cells_is_checked_as_the_bytes_of_a_file_are():
    cells = {name: np.array(column, dtype=object) for name, column in {"depot": ["A", "B"], "mail": ["", "x"]}.items()}
    table = RawTable("depots.csv", "0" * 64, np.array([4, 9]), cells, False)
    (error,) = check_files({"depots.csv": table}, LAYOUTS, RULES, on=ON).errors.in_order()
    assert (error.line, error.column, error.found) == (9, "mail", "“x”")
    sound = replace(table, cells=cells | {"mail": np.array(["", "b@example.org"], dtype=object)})
    assert check_files({"depots.csv": sound}, LAYOUTS, RULES, on=ON).table("depots.csv").new.tolist() == [True, True]


@pytest.mark.parametrize(
    "differing, owners",
    [
        (Differing(Answer.KEEP), [("pool", Answer.KEEP), ("", Answer.KEEP)]),
        (Differing(Answer.REPLACE), [("pool", Answer.REPLACE), ("", Answer.REPLACE)]),
        (Differing(Answer.FILL), [("pool", Answer.KEEP), ("", Answer.FILL)]),
        (Differing(Answer.KEEP, {("mats.csv", "owner"): Answer.FILL}), [("pool", Answer.KEEP), ("", Answer.FILL)]),
        (FILL_EMPTY, [("pool", Answer.REFUSE), ("", Answer.FILL)]),
        (Differing(), [("pool", Answer.REFUSE), ("", Answer.REFUSE)]),
    ],
)
def test_each_column_says_what_becomes_of_its_cells_that_differ(pool, differing, owners):
    files = check(differing, mats=MATS + "M-1,four,Quay Street,wren,2024-01-05\nM-2,four,,wren,\n")
    assert [(d.stored, d.becomes) for d in files.differences] == owners
    assert files.errors.count == sum(becomes == Answer.REFUSE for _, becomes in owners)


def test_an_empty_cell_says_nothing_unless_what_differs_is_refused(pool):
    row = MATS + "M-1,four,,,\n"
    assert said(check(Differing(Answer.REPLACE), mats=row)) == []
    assert [d.column for d in check(Differing(), mats=row).differences] == ["depot", "owner", "acquired_on"]


def test_rules_see_a_row_that_is_there_as_it_will_be(pool):
    """The fitting of C-2 ended; a file that leaves removed_on out says nothing else, and its place is free."""
    text = "segment,fitted_on,mat,position\nC-2,2024-02-01,M-1,2\nC-3,2025-03-01,M-1,2\n"
    files = check(Differing(), fittings=text)
    assert not files.errors, files.errors.in_order()
    assert files.table("fittings.csv").new.tolist() == [False, True]
    assert Mat.objects.count() == 2


def test_what_is_filled_and_replaced_is_corrected_and_its_trail_names_the_load(pool):
    differing = Differing(Answer.KEEP, {("mats.csv", "depot"): Answer.REPLACE, ("mats.csv", "owner"): Answer.FILL})
    text = MATS + "M-1,four,North Shed,wren,2024-01-07\nM-2,four,,wren,\nM-3,four,,,\n"
    load = store_files(check(differing, mats=text), by=None)
    assert list(Mat.objects.values_list("number", "depot__name", "owner", "version")) == [
        ("M-1", "North Shed", "pool", 2),
        ("M-2", None, "wren", 2),
        ("M-3", None, "", 1),
    ]
    assert [entry.reason for entry in trail_of(Mat.objects.get(number="M-1"))] == [str(load), ""]
    assert [(change.old, change.new) for change in trail_of(Mat.objects.get(number="M-1"))[0].changes] == [
        ("Quay Street", "North Shed")
    ]
    assert load.files["mats.csv"]["corrected"] == 2
    assert load.corrections.count() == 2


def test_the_same_files_once_more_change_nothing(pool):
    differing, text = Differing(Answer.REPLACE), MATS + "M-1,four,North Shed,wren,2024-01-07\n"
    assert store_files(check(differing, mats=text), by=None)
    again = check(differing, mats=text)
    assert (again.differences, again.changes) == ([], False)
    assert store_files(again, by=None) is None


EVERYTHING = {
    "depots": "depot,mail\nQuay Street,q@example.org\n",
    "cable_types": "cable_type,db_per_m_400mhz,db_per_m_1000mhz,velocity_factor\nthin,0.39,0.62,0.8\n",
    "mat_designs": "design,width_m,folds_m,weight_kg\nfour,2.1,0.5 1.1,12\n",
    "positions": "design,position,length_m,cable_type,length_basis\nfour,1,0.7,thin,estimated\n",
    "mats": "mat,design,owner,acquired_on,acquired_basis\nM-2,four,wren,2024-03-01,about\n",
    "segments": "segment,cable_type,length_m,lot,events_before\nC-1,thin,0.7,L 1,4\nC-3,thin,0.7,L 1,\n",
    "fittings": (
        "segment,fitted_on,mat,position,fitted_basis,removed_on,removal_reason\n"
        "C-1,2024-02-01,M-1,1,about,2025-08-01,worn\n"
    ),
    "events": "event,name,starts_on,ends_on,place\nE-1,Hill night run,2025-05-03,2025-05-05,Fen\n",
    "usage": "event,mat,state,counts_for,hours_out\nE-1,M-1,went,2,7\nE-3,M-1,called off,,\n",
    "instruments": "instrument,standard_uncertainty_db\nbridge 1,0.2\n",
    "measurements": (
        "segment,measured_on,repeat,loss_db,temperature_c\nC-1,2025-06-01,1,no signal,\nC-2,2025-01-02,1,1.31,21\n"
    ),
    "faults": (
        "mat,reported_on,fault,position,place,what,ended_on,end_reason\n"
        "M-1,2025-05-05,1,1,connector,seen,2025-06-01,repair\n"
    ),
    "notes": "note,on,about,code,text,done_on\nN-00001,2025-05-06,mat,M-1,drops on the left,2025-05-09\n",
    "prices": "cable_type,length_m,design,price\nthin,0.6,,13.50\n",
}


def test_every_kind_of_row_is_corrected_as_its_file_says_and_comes_out_again_the_same():
    first = pool_files(prices="cable_type,length_m,design,price\nthin,0.6,,12.50\n")
    store_files(check_files(first, ALL_LAYOUTS, ALL_RULES, on=ON), by=None)
    contents = {f"{name}.csv": text.encode() for name, text in EVERYTHING.items()}
    files = check_files(contents, ALL_LAYOUTS, ALL_RULES, on=ON, differing=Differing(Answer.REPLACE))
    assert not files.errors, files.errors.in_order()
    load = store_files(files, by=None)
    assert {file for file, count in load.files.items() if count.get("corrected")} == set(contents)
    again = check_files(contents, ALL_LAYOUTS, ALL_RULES, on=ON, differing=Differing(Answer.REPLACE))
    assert (again.errors.count, again.differences) == (0, [])
    assert [*broken_rows(), *days_are_those_of_usage(ON)] == []


@pytest.mark.parametrize(
    "name, text, expected",
    [
        ("mats", "mat,design,withdrawn_on\nM-1,four,2025-01-01\n", "a day after its last event"),
        ("segments", "segment,cable_type,length_m,withdrawn_on\nC-1,thin,0.6,2025-01-01\n", "in no mat"),
        ("events", "event,name,starts_on,ends_on\nE-1,Hill run,2027-05-03,2027-05-04\n", "M-1 went"),
        ("events", "event,name,starts_on,ends_on\nE-3,Gravel ride,2028-05-06,2028-05-06\n", "planned for E-4"),
    ],
)
def test_a_correction_that_does_not_fit_what_is_stored_is_refused(pool, name, text, expected):
    more = {
        "events.csv": b"event,name,starts_on,ends_on\nE-4,Mill run,2028-05-06,2028-05-06\n",
        "usage.csv": b"event,mat,state\nE-4,M-1,planned\n",
    }
    store_files(check_files(more, LAYOUTS, RULES, on=ON), by=None)
    (error,) = check(Differing(Answer.REPLACE), **{name: text}).errors.in_order()
    assert expected in error.expected


def test_what_comes_out_makes_room_for_what_the_same_file_puts_in(pool):
    text = (
        "segment,fitted_on,mat,position,removed_on,removal_reason\n"
        "C-1,2024-02-01,M-1,1,2025-08-01,worn\nC-3,2025-08-01,M-1,1,,\n"
    )
    store_files(check(FILL_EMPTY, fittings=text), by=None)
    assert list(Fitting.objects.filter(removed_on=None).values_list("segment__serial", flat=True)) == ["C-3"]
    assert StockEntry.objects.filter(segment__serial="C-1").count() == 1


def test_a_mat_called_off_may_be_planned_elsewhere_by_the_same_files(pool):
    files = {
        "events": "event,name,starts_on,ends_on\nE-4,Mill run,2028-05-04,2028-05-04\n",
        "usage": "event,mat,state\nE-3,M-1,called off\nE-4,M-1,planned\n",
    }
    store_files(check(Differing(Answer.REPLACE), **files), by=None)
    assert list(MatDay.objects.filter(planned=True).values_list("usage_event__event__code", flat=True)) == ["E-4"]


def test_what_has_an_act_of_its_own_is_not_corrected_by_files(pool):
    """A mat's build is changed on its page, where the cables that are in it are looked at."""
    text = "design\nsix\n"
    mats = MATS + "M-1,six,,,\n"
    kept = check(Differing(Answer.REPLACE), mat_designs=text, mats=mats)
    assert said(kept) == [("mats.csv", 2, "design", "four", "six", "keep")]
    assert check(FILL_EMPTY, mat_designs=text, mats=mats).errors.count == 1


@pytest.mark.parametrize(
    "answer, filled",
    [
        (Answer.FILL, [(date(2024, 1, 5), "known"), (date(2024, 3, 15), "about")]),
        (Answer.REPLACE, [(date(2024, 3, 15), "about"), (date(2024, 3, 15), "about")]),
        (Answer.KEEP, [(date(2024, 1, 5), "known"), (None, "known")]),
    ],
)
def test_how_well_a_day_is_known_goes_with_the_day(pool, answer, filled):
    text = "mat,design,acquired_on,acquired_basis\nM-1,four,2024-03-15,about\nM-2,four,2024-03-15,about\n"
    store_files(check(Differing(Answer.REFUSE, {("mats.csv", "acquired_on"): answer}), mats=text), by=None)
    assert list(Mat.objects.order_by("number").values_list("acquired_on", "acquired_basis")) == filled
