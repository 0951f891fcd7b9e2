"""What the app proposes of sheets as people keep them: which kind, where the table stands, what each column says."""

from datetime import date

import pytest
from own_sheet_cases import make_sheet, make_workbook

from fleet.parsing.day_orders import DayOrder
from inspections.own_sheets.columns.heading_words import HEADINGS, heading_fits
from inspections.own_sheets.columns.kept_selectors import KnownCodes
from inspections.own_sheets.columns.kept_shapes import shape_of, what_is_kept
from inspections.own_sheets.columns.proposals import propose
from inspections.own_sheets.columns.table_places import find_table, headings_of
from inspections.own_sheets.meanings import FIELD_WORDS, SheetKind

NOBODY = KnownCodes()
DAYS = [date(2024, 5, 3), date(2024, 6, 8), date(2024, 7, 6)]
MATS = [
    ["No", "Build", "Depot", "Owner", "Bought", "Cables last changed", "Withdrawn", "Remarks"],
    [1, "4m/8", "North", "Fenmark", "2019", "spring 2023", "", "folds badly"],
    [2, "4m/8", "North", "Fenmark", "05/2024", "", "", ""],
    ["K1", "2m/4", "South", "", "03.05.2021", "last year", "2024", ""],
]
GERMAN_MATS = [
    ["Matten-Nr.", "Breite (m)", "Kabel", "Lagerort", "Eigentümer", "Gekauft am", "Kabel gewechselt", "Bemerkung"],
    ["7", "4", "8", "Halle", "Verein", "03.05.2019", "Frühjahr 2023", ""],
    ["8", "4,5", "8", "Halle", "Verein", "2020", "", ""],
]
CABLES = [
    ["Serial", "Mat", "Pos", "Length [m]", "Type", "Fitted", "Comment"],
    ["004711", 1, 1, 0.5, "RG-58", date(2024, 5, 3), ""],
    ["004712", 1, 2, 1.0, "RG-58", date(2024, 5, 3), ""],
]
EVENTS = [
    ["Date", "Race", "Town", "Weather", "Mats used"],
    [DAYS[0], "Spring run", "Ely", "dry", "1-3, 7, K4"],
    [DAYS[1], "Fen ten", "March", "wet", "all"],
    [DAYS[2], "Dyke relay", "Ely", "", "1, 2 and 5"],
]
MAT_AND_EVENT = [
    ["Mat", "Event", "Date"],
    ["1", "Spring run", DAYS[0]],
    ["2", "Spring run", DAYS[0]],
    ["1", "Fen ten", DAYS[1]],
]
READINGS = [
    ["Mat", "Position", "Date", "dB", "Instrument"],
    [1, 1, DAYS[0], "3,2 dB", "blue box"],
    [1, 2, DAYS[0], 2.41, "blue box"],
]
WIDE = [
    ["Mat", "Measured on", "P1", "P2", "P3", "P4"],
    [1, DAYS[0], 0.41, 0.73, 1.05, 1.38],
    [2, DAYS[0], 0.44, "", 1.01, 1.40],
]
WIDE_BY_DAY = [["Cable", *DAYS], ["A-1", 0.41, 0.44, 0.49], ["A-2", 0.72, "", 0.81]]
CALENDAR = [["Mat", "Jan", "Feb", "Mar", "Apr"], [1, "x", "", "x", "Ely"], [2, "", "", "x", ""]]


def fields(meaning):
    """{column: field} of a proposal."""
    return {column.index: column.field for column in meaning.columns}


def named(rows, **kwargs):
    sheet = make_sheet(rows, **kwargs)
    [meaning] = propose(make_workbook(sheet), {}, NOBODY)
    return meaning.kind, [fields(meaning).get(at, "") for at in range(sheet.texts.shape[1])]


@pytest.mark.parametrize(
    ("rows", "kind", "expected"),
    [
        (MATS, "mats", "mat,build,depot,owner,acquired,cables changed,withdrawn,note"),
        (GERMAN_MATS, "mats", "mat,width,cables,depot,owner,acquired,cables changed,note"),
        (CABLES, "cables", "segment,mat,position,length,cable type,fitted,note"),
        (EVENTS, "events", "starts,event,place,weather,mats"),
        (MAT_AND_EVENT, "mat and event", "mat,event,starts"),
        (READINGS, "readings", "mat,position,day,loss,instrument"),
        (WIDE, "readings wide", "mat,day" + 4 * ",loss by heading"),
        (WIDE_BY_DAY, "readings wide", "segment" + 3 * ",loss by heading"),
        (CALENDAR, "calendar", "mat" + 4 * ",use by heading"),
    ],
    ids=lambda case: case if isinstance(case, str) and "," not in case else "",
)
def test_each_kind_of_sheet_is_known_by_its_headings_and_cells(rows, kind, expected):
    assert named(rows) == (kind, expected.split(","))


@pytest.mark.parametrize("heading", ["Type", "Typ"])
def test_the_type_of_a_mat_is_its_build_unless_another_column_says_the_build(heading):
    assert named([["Mat", heading, "Cables"], ["K1", "3m", 6], ["K2", "3m", 6]])[1] == ["mat", "build", "cables"]
    built = [["Mat", "Build", heading], ["K1", "3m", "RG-58"], ["K2", "3m", "RG-58"]]
    assert named(built) == ("mats", ["mat", "build", "cable type"])
    assert named([[mat, kind, build] for mat, build, kind in built])[1] == ["mat", "cable type", "build"]


def test_a_title_a_gap_and_totals_are_no_rows_of_the_table():
    sheet = make_sheet(
        [["Our mats, as of May 2024"], [], *MATS, [], ["Total", 3], ["Ask Ida about the South ones"]],
        merged=[(0, 0, 0, 7)],
    )
    place = find_table(sheet)
    assert (place.header_row, place.first_row, place.end_row) == (2, 3, 6)


def test_a_remark_at_the_foot_is_no_row_and_a_short_last_row_is_one():
    short_last = [*MATS, ["K2"]]
    assert find_table(make_sheet(short_last)).end_row == 5
    assert find_table(make_sheet([*MATS, [], ["K2 is lent to the South"]])).end_row == 4


def test_an_event_that_is_called_total_something_in_the_middle_ends_nothing():
    rows = [*EVENTS, [date(2024, 8, 1), "Total Fen weekend", "Ely", "", "1"], *(EVENTS[1:] * 6)]
    assert find_table(make_sheet(rows)).end_row == len(rows)


def test_headings_merged_over_rows_and_years_above_months_are_read_together():
    rows = [["Mat", 2023, "", 2024, ""], ["", "Nov", "Dec", "Jan", "Feb"], [1, "x", "", "x", ""], [2, "", "x", "", "x"]]
    sheet = make_sheet(rows, merged=[(0, 0, 1, 0), (0, 1, 0, 2), (0, 3, 0, 4)])
    assert headings_of(sheet, 1) == ["Mat", "Nov 2023", "Dec 2023", "Jan 2024", "Feb 2024"]
    [meaning] = propose(make_workbook(sheet), {}, NOBODY)
    assert (meaning.kind, meaning.header_row, meaning.first_row) == ("calendar", 1, 2)
    assert fields(meaning) == {0: "mat"} | dict.fromkeys(range(1, 5), "use by heading")


def test_headings_of_two_rows_that_nobody_merged_are_read_from_both():
    rows = [["Mat", "Measured", "Loss in dB, cable", "", ""], ["", "", 1, 2, 3], ["M-1", DAYS[0], 0.61, "3,2 dB", 0.7]]
    for merged in ([(0, 2, 0, 4), (0, 0, 1, 0)], [(0, 2, 0, 4)]):
        sheet = make_sheet(rows, merged=merged)
        assert headings_of(sheet, 1) == ["Mat", "Measured", "1", "2", "3"]
        assert fields(propose(make_workbook(sheet), {}, NOBODY)[0])[1] == "day"


def test_days_across_are_headings_even_where_nothing_stands_below_most_of_them():
    rows = [["", *DAYS], ["M-001", "Regatta week", "", ""], ["M-002", "", "", ""]]
    assert named(rows) == ("calendar", ["mat", *3 * ["use by heading"]])
    assert find_table(make_sheet([["1", "2019", "2021", "2023"]])).header_row is None


@pytest.mark.parametrize("heading", ["Cable", "Cable no.", "Kabel", "Kabel-Nr."])
def test_cables_that_are_counted_in_each_mat_are_positions_and_serials_are_not(heading):
    counted = [["Mat", heading, "dB"], ["M1", 1, 1.2], ["M1", 2, 1.3], ["M2", 1, 0.9]]
    assert named(counted) == ("readings", ["mat", "position", "loss"])
    serials = [["Mat", heading, "dB"], ["M1", 4711, 1.2], ["M1", 4712, 1.3], ["M1", 4711, 0.9]]
    assert named(serials) == ("readings", ["mat", "segment", "loss"])
    once = [[heading, "Length", "Fitted"], [1, 0.5, DAYS[0]], [2, 1.0, DAYS[0]], [3, 1.5, DAYS[0]]]
    assert named(once) == ("cables", ["segment", "length", "fitted"])


def test_readings_that_look_like_days_are_no_headings():
    rows = [["Mat", "Pos", *DAYS], ["M1", 1, 1.1, 1.3, 1.5], ["M1", 2, "1,2", "1,4 dB", "no signal"]]
    assert find_table(make_sheet(rows)).header_row == 0
    assert named(rows) == ("readings wide", ["mat", "position", *3 * ["loss by heading"]])
    days = [["", 3.5, 10.5, 17.5], ["M1", "x", "", "x"], ["M2", "", "x", ""]]
    assert named(days)[1] == ["mat", *3 * ["use by heading"]]


def test_hidden_sheets_and_summaries_are_not_taken_unasked():
    workbook = make_workbook(
        make_sheet(MATS, "Mats"), make_sheet(EVENTS, "Old", hidden=True), make_sheet(CABLES, "Summary 2024")
    )
    assert [meaning.kind for meaning in propose(workbook, {}, NOBODY)] == ["mats", "left out", "left out"]


def test_a_sheet_of_something_else_is_left_out():
    assert named([["Recipe", "Flour", "Eggs"], ["Cake", 200, 3]])[0] == "left out"
    assert named([])[0] == "left out"
    assert named([["", ""]])[0] == "left out"


def test_columns_without_a_heading_are_told_by_mats_that_the_pool_has():
    rows = [["", "When", "What"], ["1-3", DAYS[0], "Spring run"], ["2, 4", DAYS[1], "Fen ten"]]
    assert named(rows) == ("events", ["mats", "starts", "event"])
    mats = make_sheet([["Nr", "Bought"], [1, 2019], [2, 2020]])
    assert fields(propose(make_workbook(mats), {}, NOBODY)[0]) == {0: "mat", 1: "acquired"}
    bare = make_sheet([["Thing", "dB", "Date"], ["F-1", 2.5, DAYS[0]], ["F-2", 2.6, DAYS[0]]])
    known = KnownCodes(frozenset(), frozenset(["f-1", "f-2"]))
    assert fields(propose(make_workbook(bare), {}, known)[0]) == {0: "segment", 1: "loss", 2: "day"}


def test_the_order_of_days_is_told_by_one_day_that_can_be_read_one_way_only():
    clear = [*EVENTS[:1], ["5/3/24", "A", "", "", "1"], ["25/3/24", "B", "", "", "2"]]
    both = [*EVENTS[:1], ["5/3/24", "A", "", "", "1"], ["6/3/24", "B", "", "", "2"]]
    orders = [propose(make_workbook(make_sheet(rows)), {}, NOBODY)[0].day_order for rows in (clear, both)]
    assert orders == [DayOrder.DAY_FIRST, DayOrder.NOT_SAID]


@pytest.mark.parametrize("name", ["2024", "Use 2024"])
def test_the_year_of_a_calendar_is_that_of_its_sheet(name):
    [meaning] = propose(make_workbook(make_sheet(CALENDAR, name)), {}, NOBODY)
    assert meaning.answers == {"year": "2024"}


def test_what_was_said_of_a_sheet_holds_for_the_next_of_its_shape_wherever_its_table_begins():
    sheet = make_sheet([["Nummer", "Art", "Farbe"], ["1", "4m/8", "rot"]])
    [meaning] = propose(make_workbook(sheet), {}, NOBODY)
    said = {**what_is_kept(sheet, meaning), "kind": "mats"}
    said["columns"][2] = ["", True]
    longer = make_sheet([["Stand: Mai"], [], ["Nummer", "Art", "Farbe"], ["1", "4m/8", "rot"], ["2", "2m", "blau"]])
    [again] = propose(make_workbook(longer), {shape_of(sheet, 0): said}, NOBODY)
    assert (again.kind, again.header_row, again.first_row, again.end_row) == (SheetKind.MATS, 2, 3, 5)
    assert again.noted == [2]


def test_more_months_across_are_the_same_shape():
    sheet = make_sheet(CALENDAR)
    longer = make_sheet([["Mat", "Jan", "Feb", "Mar", "Apr", "May", "Jun"], [1, "x", "", "x", "", "x", ""]])
    [meaning] = propose(make_workbook(sheet), {}, NOBODY)
    kept = {shape_of(sheet, 0): what_is_kept(sheet, meaning)}
    [again] = propose(make_workbook(longer), kept, NOBODY)
    assert fields(again) == {0: "mat"} | dict.fromkeys(range(1, 7), "use by heading")


def test_every_line_of_the_table_of_headings_is_a_field_and_each_of_its_words_is_found():
    lines = [line.partition(": ") for line in HEADINGS.strip().replace("\n  ", " ").splitlines()]
    assert {name for name, _, _ in lines} == set(FIELD_WORDS) - {"loss by heading", "use by heading"}
    for name, _, words in lines:
        assert [word for word in words.split(", ") if heading_fits(word.casefold()).get(name) != 1] == []
