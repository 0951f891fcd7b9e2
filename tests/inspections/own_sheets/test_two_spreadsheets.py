"""The two spreadsheets of a keeper with 14 mats, as they are: into the pool, again, and in a newer version."""

from dataclasses import replace
from datetime import date

import pytest
from own_sheet_cases import make_sheet, make_workbook

from fleet.intake.differing import Answer, Differing
from fleet.models import CableSegment, Event, Fitting, Mat, MatDesign, Note, UsageEvent
from inspections.files.loading import check_pool_files, load_pool_files
from inspections.models import Measurement
from inspections.own_sheets.columns.kept_selectors import KnownCodes
from inspections.own_sheets.columns.proposals import propose
from inspections.own_sheets.reading.known_selectors import known_pool
from inspections.own_sheets.reading.understanding import understand

pytestmark = pytest.mark.django_db

ON = date(2026, 11, 27)
SINCE = ["spring 2023"] * 3 + ["03.05.2024"] * 4 + ["?", "", "2022", "last year", "Q3 24", "never", "May 2024"]
MATS = [
    ["Our mats, state of last week"],
    [],
    ["Mat", "Build", "Depot", "Cables last changed", "Bought", "Remarks"],
    *(
        [number, "4m/8" if number < 10 else "2m/4", "Shed", since, "2019" if number < 14 else "05/2024", ""]
        for number, since in enumerate(SINCE, 1)
    ),
]
MATS[3][5] = "drops on the left side"
EVENTS = [
    ["Date", "Event", "Where", "Weather", "Mats"],
    ["03.05.2026", "Hill run", "Upper Mill", "wet", "1-3, 7"],
    ["09.05.2026", "Canal run", "Quay Street", "dry", "all"],
    ["5/6/26", "Gravel ride", "", "", "1/2 and 14"],
    ["3.-4.7.2026", "Two days", "Hangar 2", "sun", "1–3"],
    ["June 2026", "Bank run", "", "", "8"],
    ["12.12.2026", "Night half", "", "", "4, 5"],
]


def workbook(mats=MATS, events=EVENTS):
    return make_workbook(make_sheet(mats, "Mats"), make_sheet(events, "Season"))


def meanings(book, order="day first"):
    return [replace(meaning, day_order=order) for meaning in propose(book, {}, KnownCodes())]


def drop(book, on=ON, otherwise=Answer.FILL, mended=None):
    """(Understood, checked set, Load) of a workbook that is taken as the app proposes it."""
    understood = understand(book, meanings(book), mended or {}, on=on, known=known_pool(on))
    files, load = load_pool_files(understood.tables, by=None, on=on, differing=Differing(otherwise), meant=True)
    return understood, files, load


def said(findings):
    return [(finding.file, finding.line, finding.column, finding.found) for finding in findings.in_order()]


def test_both_come_in_without_touching_them():
    understood, files, load = drop(workbook())
    assert (said(files.errors), understood.unread) == ([], [])
    assert load is not None
    assert Mat.objects.count() == 14
    assert CableSegment.objects.count() == 9 * 8 + 5 * 4
    assert sorted(MatDesign.objects.values_list("code", flat=True)) == ["2 m, 4 cables", "4 m, 8 cables"]
    fitted = dict(Fitting.objects.filter(position=1).values_list("mat__number", "fitted_on"))
    assert fitted["1"] == date(2023, 4, 16)
    assert (fitted["4"], fitted["12"]) == (date(2024, 5, 3), date(2024, 8, 16))
    assert (fitted["8"], fitted["11"]) == (ON, date(2025, 7, 1))
    basis = dict(Fitting.objects.filter(position=1).values_list("mat__number", "fitted_basis"))
    assert (basis["1"], basis["4"], basis["8"], basis["13"]) == ("about", "known", "not later than", "about")


def test_the_mats_of_each_event_are_those_of_its_cell():
    drop(workbook())
    went = {}
    for name, mat in UsageEvent.objects.order_by("mat__number").values_list("event__name", "mat__number"):
        went.setdefault(name, set()).add(mat)
    assert went == {
        "Hill run": {"1", "2", "3", "7"},
        "Canal run": {str(number) for number in range(1, 15)},
        "Gravel ride": {"1", "2", "14"},
        "Two days": {"1", "2", "3"},
        "Bank run": {"8"},
        "Night half": {"4", "5"},
    }
    days = {event.name: (event.starts_on, event.ends_on, event.weather) for event in Event.objects.all()}
    assert days["Hill run"] == (date(2026, 5, 3), date(2026, 5, 3), "rain")
    assert days["Gravel ride"][:2] == (date(2026, 6, 5), date(2026, 6, 5))
    assert days["Two days"] == (date(2026, 7, 3), date(2026, 7, 4), "dry")
    assert set(UsageEvent.objects.filter(event__name="Night half").values_list("state", flat=True)) == {"planned"}


def test_what_was_only_roughly_said_is_said_so_and_remarks_are_notes():
    drop(workbook())
    assert set(Note.objects.values_list("about", "text")) == {
        ("mat", "drops on the left side"),
        ("event", "Day: “June 2026” in the sheet, so its middle"),
    }


@pytest.mark.parametrize("later", [ON, date(2027, 3, 1)])
def test_a_second_drop_changes_nothing_whenever_it_comes(later):
    drop(workbook())
    _understood, files, load = drop(workbook(), on=later)
    assert (said(files.errors), load, files.differences) == ([], None, [])
    assert all(table.existing.all() for table in files.tables.values())


def test_of_a_newer_version_only_what_changed_is_stored():
    drop(workbook())
    mats, events = [[*row] for row in MATS], [[*row] for row in EVENTS]
    mats[3][3] = "November 2026"
    mats.append([15, "4m/8", "Shed", "2026", "2026", ""])
    events.append(["14.11.2026", "Last one", "", "damp", "15"])
    _, files, load = drop(workbook(mats, events), on=date(2026, 11, 30))
    assert said(files.errors) == []
    stored = {file: counts["stored"] for file, counts in load.files.items() if counts["stored"]}
    assert stored == {"mats.csv": 1, "segments.csv": 16, "fittings.csv": 16, "events.csv": 1, "usage.csv": 1}
    fittings = list(Fitting.objects.filter(mat__number="1", position=1).values_list("fitted_on", "removed_on"))
    assert sorted(fittings, key=str) == [
        (date(2023, 4, 16), date(2026, 11, 15)),
        (date(2026, 11, 15), None),
    ]
    assert CableSegment.objects.exclude(withdrawn_on=None).count() == 8


def test_a_cell_that_was_mended_is_read_as_mended_and_the_rest_was_not_waiting_for_it():
    events = [[*row] for row in EVENTS]
    events[1][0], events[2][4] = "some Sunday in May", "1-3, K9"
    book = workbook(events=events)
    understood = understand(book, meanings(book), {}, on=ON, known=known_pool(ON))
    assert [(each.sheet, each.row, each.column, each.cell) for each in understood.unread] == [
        ("Season", 1, 0, "some Sunday in May"),
        ("Season", 2, 4, "1-3, K9"),
    ]
    assert len(understood.tables["events.csv"]) == 5
    mended = {("Season", 1, 0): "03.05.2026", ("Season", 2, 4): "1-3"}
    understood = understand(book, meanings(book), mended, on=ON, known=known_pool(ON))
    assert understood.unread == []
    assert len(understood.tables["events.csv"]) == 6


def test_each_row_knows_the_cell_that_it_came_from():
    book = workbook()
    understood = understand(book, meanings(book), {}, on=ON)
    table, origins = understood.tables["events.csv"], understood.origins["events.csv"]
    line = int(table.lines[table.cells["name"].tolist().index("Canal run")])
    origin = understood.origin("events.csv", line)
    assert (origin.sheet, origin.row, origin.columns["name"], origin.columns["weather"]) == ("Season", 2, 1, 3)
    assert len(origins) == len(table)


def test_without_an_order_of_days_what_can_be_read_both_ways_is_asked():
    book = workbook()
    understood = understand(book, meanings(book, order=""), {}, on=ON)
    assert [(each.row, each.cell, each.expected) for each in understood.unread] == [
        (3, "5/6/26", "write 5 June 2026 or 6 May 2026")
    ]


def test_checking_alone_stores_nothing():
    book = workbook()
    understood = understand(book, meanings(book), {}, on=ON, known=known_pool(ON))
    assert not check_pool_files(understood.tables, on=ON).errors
    assert not Mat.objects.exists()


# cables, readings across, a calendar and use beside the mats of a list
ALL_KINDS = {
    "Mats": [
        ["No", "Build", "Bought", "Cables last changed", "Withdrawn", "Remarks"],
        [1, "4m/8", "2019", "spring 2023", "", "folds badly"],
        [2, "4m/8", "05/2024", "", "", ""],
        [3, "Long one", "", "2021", "", ""],
        ["K1", "2m/4", "03.05.2021", "last year", "", ""],
        ["K2", "2m/4", "2018", "2019", "Q3 24", ""],
    ],
    "Cables": [
        ["Serial", "Mat", "Pos", "Length", "Type", "Fitted"],
        ["004711", 3, 1, 0.5, "RG-58", "May 2024"],
        ["004712", 3, 2, 1.0, "RG-58", ""],
        ["", 3, 3, 1.5, "", "2022"],
    ],
    "Events": [
        ["Date", "Event", "Weather", "Mats"],
        ["03.05.2026", "Hill run", "wet", "1-3, K1"],
        ["June 2026", "Bank run", "", "all"],
    ],
    "Use": [["Event", "Date", "Mat"], ["Canal run", "10.05.2026", "1"], ["", "", "K1"]],
    "Loss": [
        ["Mat", "Measured on", "P1", "P2", "P3"],
        ["K1", "01.03.2026", 0.41, 0.73, "3,2 dB"],
        [1, "05.01.2020", 0.5, "no", 0.7],
        [1, "05.01.2020", 0.51, "", ""],
    ],
    "2025": [["Mat", "Apr", "May", "Jun"], [1, "x", "3", "Gravel ride"], [2, "", "x", ""]],
}


@pytest.mark.parametrize("later", [ON, date(2027, 3, 1)])
def test_of_every_kind_of_sheet_a_second_drop_changes_nothing(later):
    book = make_workbook(*(make_sheet(rows, name) for name, rows in ALL_KINDS.items()))
    understood, files, load = drop(book)
    assert (understood.unread, said(files.errors)) == ([], [])
    assert {file for file, counts in load.files.items() if counts["stored"]} == {
        *("cable_types.csv", "mat_designs.csv", "positions.csv", "mats.csv", "segments.csv", "fittings.csv"),
        *("events.csv", "usage.csv", "notes.csv", "measurements.csv"),
    }
    understood, files, load = drop(book, on=later)
    assert (understood.unread, said(files.errors)) == ([], [])
    assert [(each.file, each.column, each.key, each.given) for each in files.differences] == []
    assert load is None


def test_readings_that_come_after_their_mats_belong_to_the_cables_of_unknown_age():
    drop(workbook())
    days = [[8, 1, "03.05.2025", 1.2], [1, 1, "03.05.2022", 2.5], [1, 1, "04.06.2023", 1]]
    readings = [["Mat", "Pos", "Date", "dB"], *days]
    understood, files, _ = drop(make_workbook(make_sheet(readings, "Loss")))
    assert (understood.unread, said(files.errors)) == ([], [])
    read = dict(Measurement.objects.values_list("loss_db", "segment__fittings__mat__number"))
    assert read == {1.2: "8", 2.5: "1", 1.0: "1"}
    # that of mat 8 is still in, and nobody says that it came out; before spring 2023 mat 1 had another
    still_in = set(Measurement.objects.filter(segment__withdrawn_on=None).values_list("loss_db", flat=True))
    assert still_in == {1.2, 1.0}


def test_what_the_pool_has_is_asked_in_as_many_queries_however_much_it_is(django_assert_num_queries):
    with django_assert_num_queries(18) as empty:
        known_pool(ON)
    drop(workbook())
    with django_assert_num_queries(len(empty)):
        known_pool(ON)
