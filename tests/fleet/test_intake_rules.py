"""What a set of files may say: each test changes one thing in a small pool without an error."""

from datetime import date, timedelta
from io import StringIO

import pytest
from factories import fit, make_design, make_event, make_mat, make_segment, make_usage_event
from pool_files import pool_files

from fleet.intake import LAYOUTS, RULES, check_files, store_files, write_file
from fleet.intake.files import FAULTS
from fleet.intake.files import USAGE as USAGE_LAYOUT
from fleet.models import CableSegment, Depot, Fault, Fitting, Mat, MatDay, UsageEvent

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
FITTINGS = "segment,fitted_on,mat,position,removed_on\n"
USAGE = "event,mat,state\n"
SEGMENTS = "segment,cable_type,length_m,withdrawn_on,withdrawal_reason\n"


def check(on=ON, **changes):
    return check_files(pool_files(**changes), LAYOUTS, RULES, on=on)


def errors_of(files):
    return [(error.file, error.line, error.column) for error in files.errors.in_order([x.file for x in LAYOUTS])]


def notes_of(files):
    return [(note.file, note.line, note.column) for note in files.warnings.in_order()]


def store(**changes):
    return store_files(check(**changes), by=None)


@pytest.mark.parametrize(
    ("state", "home_on", "refused"),
    [
        ("went", "2026-09-13", False),
        ("went", "2026-09-11", True),
        ("went", "2026-10-01", True),
        ("called off", "2026-09-13", True),
        ("planned", "2026-09-13", False),
    ],
)
def test_a_mat_comes_home_after_it_left_and_by_today(state, home_on, refused):
    events = "event,name,starts_on,ends_on\nE-1,Hill run,2026-09-12,2026-09-13\n"
    usage = f"event,mat,state,home_on\nE-1,M-1,{state},{home_on}\n"
    files = check(events=events, usage=usage)
    assert errors_of(files) == ([("usage.csv", 2, "home_on")] if refused else [])
    if not refused:
        store(events=events, usage=usage)
        assert str(UsageEvent.objects.get().home_on) == home_on
        write_file(USAGE_LAYOUT, exported := StringIO())
        assert exported.getvalue().splitlines()[1].endswith(home_on)


def test_the_small_pool_has_no_error():
    assert errors_of(check()) == []
    assert notes_of(check()) == []


@pytest.mark.parametrize(
    ("name", "text", "expected"),
    [
        ("mats", "mat,design\nM-1,four\nM-1,four\nM-2,four\n", [("mats.csv", 3, "mat")]),
        ("mats", "mat,design\nM-1,nine\nM-2,four\n", [("mats.csv", 2, "design")]),
        ("mats", "mat,design\nM-1,\nM-2,four\n", [("mats.csv", 2, "design")]),
        ("mats", "mat,design,acquired_on\nM-1,four,2026-10-01\nM-2,four,\n", [("mats.csv", 2, "acquired_on")]),
        ("mats", "mat,design\nM/1,four\nM-1,four\nM-2,four\n", [("mats.csv", 2, "mat")]),
        ("mats", f"mat,design,owner\nM-1,four,{'x' * 101}\nM-2,four,\n", [("mats.csv", 2, "owner")]),
        ("segments", "segment,cable_type,length_m\nC-1,thin,-1\nC-2,thin,0\nC-3,thick,x\n",
         [("segments.csv", 2, "length_m"), ("segments.csv", 3, "length_m"), ("segments.csv", 4, "length_m"),
          ("segments.csv", 4, "cable_type")]),
        ("segments", SEGMENTS + "C-1,thin,0.6,,\nC-2,thin,1.1,,\nC-3,thin,0.6,2026-10-01,lost\n",
         [("segments.csv", 4, "withdrawn_on")]),
        ("segments", SEGMENTS + "C-1,thin,0.6,,\nC-2,thin,1.1,,\nC-3,thin,0.6,,lost\n",
         [("segments.csv", 4, "withdrawn_on")]),
        ("segments", SEGMENTS + "C-1,thin,0.6,2026-09-01,lost\nC-2,thin,1.1,2025-01-31,\nC-3,thin,0.6,,\n",
         [("fittings.csv", 2, "segment"), ("fittings.csv", 3, "segment")]),
        ("mat_designs", "design,width_m,folds_m\nfour,2.0,1.5 0.5\n", [("mat_designs.csv", 2, "folds_m")]),
        ("mat_designs", "design,width_m,folds_m\nfour,2.0,0.5 2.5\n", [("mat_designs.csv", 2, "folds_m")]),
        ("cable_types", "cable_type,db_per_m_400mhz,db_per_m_1000mhz,velocity_factor\nthin,0.38,0.62,1.2\n",
         [("cable_types.csv", 2, "velocity_factor")]),
        ("cable_types", "cable_type,db_per_m_400mhz,db_per_m_1000mhz,torque_min_nm\nthin,0.38,0.62,0.5\n",
         [("cable_types.csv", 2, "torque_max_nm")]),
        ("positions", "design,position,length_m,cable_type\nfour,0,0.6,thin\nfour,1,0.6,thin\nfour,2,1.1,thin\n",
         [("positions.csv", 2, "position")]),
        ("fittings", FITTINGS + "C-1,2026-10-01,M-1,1,\n", [("fittings.csv", 2, "fitted_on")]),
        ("fittings", FITTINGS + "C-1,2024-02-01,M-1,1,2024-01-31\n", [("fittings.csv", 2, "removed_on")]),
        ("fittings", FITTINGS + "C-1,2024-02-01,M-1,1,2026-10-01\n", [("fittings.csv", 2, "removed_on")]),
        ("fittings", FITTINGS + "C-1,2024-02-01,M-1,3,\n", [("fittings.csv", 2, "position")]),
        ("fittings", FITTINGS + "C-9,2024-02-01,M-9,1,\n",
         [("fittings.csv", 2, "segment"), ("fittings.csv", 2, "mat")]),
        ("events", "event,name,starts_on,ends_on\nE-1,a,2025-05-04,2025-05-03\nE-3,b,2028-05-03,2028-05-03\n",
         [("events.csv", 2, "ends_on")]),
        ("events", "event,name,starts_on,ends_on\nE-1,a,2024-01-01,2026-01-01\nE-3,b,2028-05-03,2028-05-03\n",
         [("events.csv", 2, "ends_on")]),
        ("events",
         "event,name,starts_on,ends_on,weather\nE-1,a,2025-05-03,2025-05-03,fog\nE-3,b,2028-05-03,2028-05-03,\n",
         [("events.csv", 2, "weather")]),
        ("usage", USAGE + "E-3,M-1,went\n", [("usage.csv", 2, "state")]),
        ("usage", USAGE + "E-1,M-1,lent\n", [("usage.csv", 2, "state")]),
        ("usage", "event,mat,state,counts_for\nE-1,M-1,went,0\n", [("usage.csv", 2, "counts_for")]),
        ("usage", "event,mat,state,counts_for\nE-1,M-1,went,99999\n", [("usage.csv", 2, "counts_for")]),
        ("faults", "mat,reported_on,fault,position,place\nM-1,2025-05-05,1,,cable\n", [("faults.csv", 2, "position")]),
        ("faults", "mat,reported_on,fault,position,place\nM-1,2025-05-05,1,7,cable\n", [("faults.csv", 2, "position")]),
        ("faults", "mat,reported_on,fault,place\nM-1,2026-10-01,1,whole mat\n", [("faults.csv", 2, "reported_on")]),
        ("faults", "mat,reported_on,fault,place,ended_on\nM-1,2025-05-05,1,whole mat,2025-05-06\n",
         [("faults.csv", 2, "end_reason")]),
        ("faults", "mat,reported_on,fault,place,ended_on,end_reason\nM-1,2025-05-05,1,whole mat,2025-05-04,repair\n",
         [("faults.csv", 2, "ended_on")]),
    ],
)  # fmt: skip
def test_an_error_is_named_by_file_line_and_column(name, text, expected):
    assert errors_of(check(**{name: text})) == expected


def test_an_error_says_what_was_found_and_what_is_expected():
    (error,) = check(fittings=FITTINGS + "C-1,2024-02-01,M-1,3,\n").errors.in_order()
    assert (error.found, error.expected) == ("“3” of M-1", "a position of its design four: 1, 2")


NO_CABLES = ("one of the cables", "element or board", "cover or fold", "wet", "whole mat", "not known")
DRIED = "mat,reported_on,fault,position,place,ended_on,end_reason\nM-1,2025-05-05,1,{},{},2025-05-06,dried\n"


@pytest.mark.parametrize("place", NO_CABLES)
def test_what_is_no_cables_fault_may_have_dried(place):
    store(faults=DRIED.format("", place))
    fault, exported = Fault.objects.get(), StringIO(newline="")
    assert (fault.place, fault.end_reason) == (place, "dried")
    write_file(FAULTS, exported)
    assert exported.getvalue().endswith(",2025-05-06,dried\r\n")


@pytest.mark.parametrize("place", ["cable", "connector"])
def test_a_cable_or_connector_that_dried_is_refused_with_what_may_stand_there(place):
    (error,) = check(faults=DRIED.format(1, place)).errors.in_order()
    assert (error.file, error.line, error.column, error.found) == ("faults.csv", 2, "end_reason", "“dried”")
    assert error.expected == f"change, repair, looked at, nothing found: a {place} is not mended by drying"


def test_one_of_the_cables_with_a_position_is_refused():
    (error,) = check(faults=DRIED.format(1, "one of the cables")).errors.in_order()
    assert (error.line, error.column, error.found) == (2, "position", "1")
    assert error.expected == "an empty cell: of one of the cables nobody knows which"


def test_every_error_of_a_row_is_collected():
    text = FITTINGS + "C-9,2026-10-01,M-1,9,\nC-2,2024-02-01,M-1,2,soon\n"
    assert errors_of(check(fittings=text)) == [
        ("fittings.csv", 2, "fitted_on"),
        ("fittings.csv", 2, "segment"),
        ("fittings.csv", 2, "position"),
        ("fittings.csv", 3, "removed_on"),
    ]


def test_planned_events_may_lie_anywhere():
    assert errors_of(check(usage=USAGE + "E-1,M-1,planned\nE-3,M-2,planned\n")) == []


@pytest.mark.parametrize(
    ("first", "second", "column"),
    [
        ("C-1,2024-02-01,M-1,1,", "C-1,2024-03-01,M-2,1,", "segment"),
        ("C-1,2024-02-01,M-1,1,2024-03-02", "C-1,2024-03-01,M-2,1,2024-04-01", "segment"),
        ("C-1,2024-02-01,M-1,1,", "C-3,2024-03-01,M-1,1,", "position"),
        ("C-1,2024-02-01,M-1,1,2024-03-02", "C-3,2024-03-01,M-1,1,", "position"),
    ],
)
def test_nothing_is_occupied_twice_at_once(first, second, column):
    assert errors_of(check(fittings=f"{FITTINGS}{first}\n{second}\n")) == [("fittings.csv", 3, column)]
    files = check(fittings=f"{FITTINGS}{second}\n{first}\n")
    assert [(file, name) for file, _, name in errors_of(files)] == [("fittings.csv", column)]


def test_a_position_is_free_on_the_day_its_segment_is_removed():
    text = FITTINGS + "C-1,2024-02-01,M-1,1,2024-03-01\nC-3,2024-03-01,M-1,1,\nC-1,2024-03-01,M-2,1,\n"
    assert errors_of(check(fittings=text)) == []


@pytest.mark.parametrize("line", ["C-1,2025-01-01,M-2,1,", "C-3,2025-01-01,M-1,1,", "C-3,2023-01-01,M-1,1,"])
def test_a_fitting_is_compared_with_those_stored(line):
    store()
    files = check_files({"fittings.csv": (FITTINGS + line).encode()}, LAYOUTS, RULES, on=ON)
    (error,) = files.errors.in_order()
    assert "stored already: C-1 in M-1 position 1 from 2024-02-01" in error.expected


def test_a_cable_may_come_withdrawn_with_the_fittings_that_it_had_until_then():
    store(segments=SEGMENTS + "C-1,thin,0.6,,\nC-2,thin,1.1,2025-02-01,=crushed\nC-3,thin,0.6,2026-09-30,\n")
    gone = CableSegment.objects.exclude(withdrawn_on=None).order_by("serial")
    assert list(gone.values_list("serial", "withdrawn_on", "withdrawal_reason")) == [
        ("C-2", date(2025, 2, 1), "=crushed"),
        ("C-3", ON, ""),
    ]
    assert not CableSegment.objects.on_shelf(ON).exists()


def test_what_is_withdrawn_is_fitted_and_used_no_longer_from_that_day_on():
    store()
    day = date(2026, 3, 1)
    CableSegment.objects.filter(serial="C-3").update(withdrawn_on=day)
    Mat.objects.filter(number="M-2").update(withdrawn_on=day)
    make_segment(serial="C-4")
    make_event(day - timedelta(days=1), code="E-8")
    make_event(day, code="E-9")
    fittings = "C-3,2026-02-01,M-1,2,\nC-4,2026-03-01,M-2,1,\n"
    assert errors_of(check(fittings=FITTINGS + fittings, usage=USAGE + "E-9,M-2,went\n")) == [
        ("fittings.csv", 2, "segment"),
        ("fittings.csv", 3, "mat"),
        ("usage.csv", 2, "mat"),
    ]
    fittings = "C-3,2026-02-01,M-1,2,2026-03-01\nC-4,2026-02-28,M-2,1,\n"
    assert errors_of(check(fittings=FITTINGS + fittings, usage=USAGE + "E-8,M-2,went\nE-9,M-2,called off\n")) == []


def test_a_mat_is_planned_once_a_day():
    files = check(usage=USAGE + "E-1,M-1,planned\nE-2,M-1,planned\nE-2,M-2,planned\n")
    (error,) = files.errors.in_order()
    assert (error.line, error.column) == (3, "mat")
    assert (error.found, error.expected) == ("M-1 at E-2 on 2025-05-04", "a mat planned once a day; line 2: E-1")


def test_a_mat_planned_on_a_day_that_is_stored_is_refused():
    store(usage=USAGE + "E-1,M-1,planned\n")
    files = check_files({"usage.csv": b"event,mat,state\nE-2,M-1,planned\n"}, LAYOUTS, RULES, on=ON)
    assert errors_of(files) == [("usage.csv", 2, "mat")]


@pytest.mark.parametrize(("said", "stored"), [("yes", [True]), ("no", [False]), ("", [False])])
def test_whether_a_mat_shares_a_day_is_what_the_file_says_of_it(said, stored):
    """The other event may be called off by now: only where nothing is said it follows from the days."""
    usage = f"event,mat,state,shares_a_day\nE-1,M-1,went,{said}\n"
    store(usage=usage)
    assert list(UsageEvent.objects.values_list("shares_a_day", flat=True)) == stored


@pytest.mark.parametrize(
    ("file", "text"),
    [
        ("cable_types", "cable_type,db_per_m_400mhz,db_per_m_1000mhz,withdrawal_reason\nthin,0.38,0.62,too stiff\n"),
        ("mat_designs", "design,withdrawal_reason\nfour,sold\n"),
    ],
)
def test_why_a_type_or_a_design_is_withdrawn_wants_the_day(file, text):
    assert errors_of(check(**{file: text})) == [(f"{file}.csv", 2, "withdrawn_on")]


def test_went_twice_on_a_day_is_noted_and_marked():
    files = check(usage=USAGE + "E-1,M-1,went\nE-2,M-1,went\nE-2,M-2,went\n")
    assert notes_of(files) == [("usage.csv", 2, "mat"), ("usage.csv", 3, "mat")]
    store_files(files, by=None)
    assert sorted(UsageEvent.objects.values_list("event__code", "mat__number", "shares_a_day")) == [
        ("E-1", "M-1", True),
        ("E-2", "M-1", True),
        ("E-2", "M-2", False),
    ]


def test_a_day_that_another_event_took_already_is_noted():
    mat = make_mat("M-1", make_design("four", lengths_m=(0.6, 1.1)))
    taken = make_usage_event(mat, make_event(date(2025, 5, 4), code="E-0"))
    MatDay.objects.create(mat=mat, day=date(2025, 5, 4), usage_event=taken, planned=False)
    contents = pool_files()
    files = check_files({n: contents[n] for n in ("usage.csv", "events.csv")}, LAYOUTS, RULES, on=ON)
    (note,) = files.warnings.in_order()
    assert note.found == "M-1 at E-1 on 2025-05-04, and at E-0"


def test_each_day_of_an_event_that_a_mat_goes_to_is_taken():
    store(usage=USAGE + "E-1,M-1,went\nE-2,M-2,called off\nE-3,M-2,planned\n")
    assert sorted(MatDay.objects.values_list("mat__number", "day", "planned")) == [
        ("M-1", date(2025, 5, 3), False),
        ("M-1", date(2025, 5, 4), False),
        ("M-2", date(2028, 5, 3), True),
        ("M-2", date(2028, 5, 4), True),
    ]


USUAL = "event,mat,state,basis\n"


def test_usual_use_is_never_planned():
    (error,) = check(usage=USUAL + "E-1,M-1,planned,usual\n").errors.in_order()
    assert (error.line, error.column, error.found) == (2, "state", "“planned”")
    assert error.expected == "went, or called off: usual use is never planned"


def test_usual_use_is_one_a_mat_and_month_and_both_rows_are_named():
    rows = "E-1,M-1,went,usual\nE-1,M-2,went,usual\nE-2,M-1,went,usual\nE-2,M-2,called off,usual\n"
    (error,) = check(usage=USUAL + rows).errors.in_order()
    assert (error.line, error.column) == (4, "basis")
    assert error.found == "usual use of M-1 at E-2, 2025-05-04"
    assert error.expected == "one a mat and month; line 2: E-1, 2025-05-03"


def test_usual_use_that_is_stored_is_named_too():
    mat = make_mat("M-1", make_design("four", lengths_m=(0.6, 1.1)))
    make_usage_event(mat, make_event(date(2025, 5, 31), code="E-0"), basis="usual")
    contents = pool_files(usage=USUAL + "E-1,M-1,went,usual\n")
    files = check_files({n: contents[n] for n in ("usage.csv", "events.csv")}, LAYOUTS, RULES, on=ON)
    (error,) = files.errors.in_order()
    assert error.expected == "one a mat and month; stored already: E-0, 2025-05-31"


def test_usual_use_takes_no_day_from_an_event():
    store(usage=USUAL + "E-1,M-1,went,counted\nE-2,M-1,went,usual\n")
    assert not UsageEvent.objects.filter(shares_a_day=True).exists()
    assert set(MatDay.objects.values_list("usage_event__event__code", flat=True)) == {"E-1"}


def test_a_segment_of_another_length_than_its_position_is_noted():
    files = check(fittings=FITTINGS + "C-1,2024-02-01,M-1,2,\n")
    assert errors_of(files) == []
    (note,) = files.warnings.in_order()
    assert (note.line, note.found) == (2, "C-1 of 0.6 m in M-1 position 2")
    assert note.expected == "1.1 m by its design; the length of the segment counts"


def test_files_may_refer_to_what_is_stored():
    design = make_design("six", lengths_m=(0.6, 0.6, 0.6))
    make_mat("M-9", design)
    make_segment(0.6, "C-9")
    files = check_files({"fittings.csv": (FITTINGS + "C-9,2024-02-01,M-9,3,\n").encode()}, LAYOUTS, RULES, on=ON)
    assert errors_of(files) == []


def test_a_file_that_cannot_be_read_does_not_make_what_refers_to_it_wrong():
    assert errors_of(check(mats=b"")) == [("mats.csv", 0, "")]


def test_depots_are_made_by_name():
    Depot.objects.create(name="Upper Mill")
    store(mats="mat,design,depot\nM-1,four,Quay Street\nM-2,four,Upper Mill\n", usage=None, fittings=None, faults=None)
    assert dict(Mat.objects.values_list("number", "depot__name")) == {"M-1": "Quay Street", "M-2": "Upper Mill"}
    assert Depot.objects.count() == 2


def test_an_equal_row_is_there_already_and_columns_left_out_are_not_compared():
    store()
    files = check_files({"mats.csv": b"mat,design\nM-1,four\nM-2,four\n"}, LAYOUTS, RULES, on=ON)
    assert errors_of(files) == []
    assert files.table("mats.csv").existing.tolist() == [True, True]
    assert store_files(files, by=None) is None


def test_a_row_that_differs_is_refused_with_both_values():
    store()
    files = check_files({"segments.csv": b"segment,cable_type,length_m\nC-1,thin,0.7\n"}, LAYOUTS, RULES, on=ON)
    (error,) = files.errors.in_order()
    assert (error.line, error.column, error.found) == (2, "length_m", "“0.7” for C-1")
    assert error.expected == "“0.6”, as stored; correct it on its page"


def test_the_first_thousand_errors_of_a_column_are_kept_and_all_are_counted():
    rows = "".join(f"C-{number},thin,x\n" for number in range(1500))
    files = check(segments="segment,cable_type,length_m\n" + rows)
    assert files.errors.count == 1500
    assert len(files.errors.in_order()) == 1000


def test_a_fitting_that_ended_the_day_it_began_takes_no_room():
    segment, mat = make_segment(0.6, "C-9"), make_mat("M-9", make_design("nine", lengths_m=(0.6,)))
    fit(segment, mat, 1, date(2024, 1, 1), date(2024, 1, 1))
    contents = {"fittings.csv": (FITTINGS + "C-9,2024-01-01,M-9,1,2024-01-01\n").encode()}
    files = check_files(contents, LAYOUTS, RULES, on=ON)
    assert errors_of(files) == []
    assert Fitting.objects.count() == 1
