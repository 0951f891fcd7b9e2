"""Each kind of sheet as people keep it, and the rows of ours that it comes to."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from own_sheet_cases import make_sheet, make_workbook
from sizes import examples

from inspections.own_sheets.columns.kept_selectors import KnownCodes
from inspections.own_sheets.columns.proposals import propose
from inspections.own_sheets.meanings import FIELDS, ColumnMeaning, SheetKind, SheetMeaning
from inspections.own_sheets.reading import known_selectors as known
from inspections.own_sheets.reading.assumed_text import rough_day_in_words, sentence
from inspections.own_sheets.reading.understanding import understand
from inspections.own_sheets.understood import Assumed, Assumption

ON = date(2026, 11, 27)
MATS = [
    ["Mat", "Build", "Cables last changed"],
    ["1", "2m/4", "spring 2023"],
    ["2", "2m/4", ""],
    ["K1", "2m/4", "03.05.2024"],
]


def understood(*sheets, mended=None, on=ON, pool=None, answers=None, **changes):
    """What the app makes of sheets as it proposes them: (name, rows) each, or Sheets."""
    book = make_workbook(*(make_sheet(rows, name) for name, rows in sheets))
    meanings = [
        replace(meaning, answers=meaning.answers | (answers or {}), **changes)
        for meaning in propose(book, {}, KnownCodes())
    ]
    return understand(book, meanings, mended or {}, on=on, known=pool)


def rows_of(result, file, *names):
    """The rows of a table, of each the cells of these columns."""
    table = result.tables.get(file)
    empty = [""] * len(table) if table else []
    return [] if table is None else list(zip(*(table.cells.get(name, empty) for name in names), strict=True))


def unread(result):
    return [(each.sheet, each.row, each.column, each.cell) for each in result.unread]


def assumed(result, what):
    return [sentence(each) for each in result.assumed if each.what is what]


# mats and their builds


def test_mats_come_with_a_cable_in_each_position_of_their_build_and_the_day_that_was_said():
    result = understood(("Mats", MATS))
    fitted = rows_of(result, "fittings.csv", "mat", "position", "fitted_on", "fitted_basis")
    assert fitted[:4] == [("1", f"{position}", "2023-04-16", "about") for position in (1, 2, 3, 4)]
    assert {row[2:] for row in fitted if row[0] == "2"} == {("2026-11-27", "not later than")}
    assert {row[2:] for row in fitted if row[0] == "K1"} == {("2024-05-03", "known")}
    assert len(rows_of(result, "segments.csv", "segment")) == 12
    assert assumed(result, Assumption.MADE_CABLES) == [
        "Where no cable of mat 1, mat 2 and K1 is named, each position of the build gets one, "
        "with a running number of the app."
    ]


def test_a_depot_that_the_pool_does_not_have_is_named():
    mats = [["Mat", "Depot"], ["1", "Boat house"], ["2", "boat house"], ["3", "Baot house"], ["4", "Annex"]]
    result = understood(("Mats", mats), pool=known.KnownPool(depots=["annex"]))
    assert assumed(result, Assumption.DEPOT) == [
        "New as a depot: Boat house and Baot house. One that is written in two ways would be two."
    ]


def test_how_far_a_rough_day_may_be_from_the_true_one_is_said_before_it_is_stored():
    events = [["Date", "Event", "Mats"], ["June 2026", "Bank run", "1"]]
    mats = [[*row] for row in MATS]
    mats[2][2] = "spring 2023"
    result = understood(("Mats", mats), ("Events", events))
    assert [rough_day_in_words(each) for each in result.rough] == [
        {
            "text": "spring 2023",
            "of_what": "cables changed",
            "stored": "about 16 Apr 2023",
            "between": "1 Mar 2023 to 31 May 2023",
            "names": "mat 1 and mat 2",
        },
        {
            "text": "June 2026",
            "of_what": "event",
            "stored": "15 Jun 2026, with a note",
            "between": "1 Jun 2026 to 30 Jun 2026",
            "names": "Bank run",
        },
    ]


def test_lengths_that_nobody_said_are_estimates_and_those_that_were_answered_are_as_said():
    result = understood(("Mats", MATS))
    assert rows_of(result, "positions.csv", "length_m", "length_basis") == [
        ("0.5", "estimated"),
        ("1", "estimated"),
        ("1.5", "estimated"),
        ("2", "estimated"),
    ]
    result = understood(("Mats", MATS), answers={"builds": {"2m/4": {"lengths_m": "0,4 0,9 1,4 2,1"}}})
    assert rows_of(result, "positions.csv", "length_m", "length_basis") == [
        ("0.4", "known"),
        ("0.9", "known"),
        ("1.4", "known"),
        ("2.1", "known"),
    ]


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("4m/8", "4 m, 8 cables"),
        ("4 m (8 cables)", "4 m, 8 cables"),
        ("4,5m/8", "4.5 m, 8 cables"),
        ("Long one", "Long one"),
        ("wide/old", "wide-old"),
        ("add", "Build add"),
    ],
)
def test_a_name_of_a_build_that_can_be_no_code_gets_one_and_the_keeper_is_told(name, code):
    result = understood(("Mats", [["Mat", "Build"], ["1", name], ["2", name]]))
    assert rows_of(result, "mat_designs.csv", "design") == [(code,)]
    assert {design for _, design in rows_of(result, "mats.csv", "mat", "design")} == {code}
    assert [code in text for text in assumed(result, Assumption.NEW_BUILD)] == [True]


def test_a_build_of_the_pool_is_used_again_by_its_code_or_by_what_it_is_made_of():
    places = {number: known.KnownPlace(number / 2, "RG-316", "known") for number in (1, 2, 3, 4)}
    pool = known.KnownPool(designs=[known.KnownDesign("Short", 2.0, places)], cable_types=["RG-316"])
    for name in ("short", "2m/4"):
        result = understood(("Mats", [["Mat", "Build"], ["1", name]]), pool=pool)
        assert rows_of(result, "mats.csv", "mat", "design") == [("1", "Short")]
        assert "mat_designs.csv" not in result.tables
        assert {row[0] for row in rows_of(result, "segments.csv", "cable_type")} == {"RG-316"}


def test_rough_days_of_buying_are_about_and_of_taking_out_their_middle_with_a_note():
    mats = [["Mat", "Bought", "Withdrawn"], ["1", "2019", "Q3 24"], ["2", "03.05.2019", "2024-06-01"]]
    result = understood(("Mats", mats))
    assert rows_of(result, "mats.csv", "mat", "acquired_on", "acquired_basis", "withdrawn_on") == [
        ("1", "2019-07-01", "about", "2024-08-16"),
        ("2", "2019-05-03", "known", "2024-06-01"),
    ]
    assert rows_of(result, "notes.csv", "code", "text") == [
        ("1", "Day it was taken out of use: “Q3 24” in the sheet, so its middle")
    ]


def test_one_row_for_several_mats_and_a_mat_that_stands_twice():
    result = understood(("Mats", [["Mat", "Build"], ["1-3", "2m/4"], ["3", "4m/8"]]))
    assert [mat for (mat,) in rows_of(result, "mats.csv", "mat")] == ["1", "2", "3"]
    assert unread(result) == [("Mats", 2, 0, "3")]


def test_a_width_that_no_mat_has_is_listed_and_the_mat_comes_in():
    result = understood(("Mats", [["Mat", "Width", "Cables"], ["1", "400", "8"], ["2", "4", "8"]]))
    assert unread(result) == [("Mats", 1, 1, "400")]
    assert len(rows_of(result, "mats.csv", "mat")) == 2


# cables


def test_cables_keep_their_serials_as_they_stand_and_a_mat_stands_for_the_rows_below_it():
    cables = [
        ["Serial", "Mat", "Pos", "Length", "Fitted"],
        ["004711", "1", "1", "0,5", "May 2024"],
        ["004712", "", "2", "1,0 m", ""],
        ["", "", "3", "1.5", "03.05.2024"],
        ["S-1", "", "", "2", ""],
    ]
    result = understood(("Cables", cables))
    assert sorted(rows_of(result, "segments.csv", "segment", "length_m", "serial_basis")) == [
        ("004711", "0.5", ""),
        ("004712", "1", ""),
        ("C-00001", "1.5", "given"),
        ("S-1", "2", ""),
    ]
    assert sorted(rows_of(result, "fittings.csv", "position", "segment", "fitted_on", "fitted_basis")) == [
        ("1", "004711", "2024-05-15", "about"),
        ("2", "004712", "2026-11-27", "not later than"),
        ("3", "C-00001", "2024-05-03", "known"),
    ]
    assert rows_of(result, "positions.csv", "position", "length_m") == [("1", "0.5"), ("2", "1"), ("3", "1.5")]


def test_a_serial_of_bare_digits_is_no_mat():
    cables = [["Serial", "Mat", "Pos", "Length", "Fitted"], ["004711", "1", "1", "0.5", "May 2024"]]
    said = [rough_day_in_words(each)["names"] for each in understood(("Cables", cables)).rough]
    assert said == ["cable 004711"]


def test_a_cable_that_followed_another_ends_it_and_what_came_out_is_no_spare():
    cables = [
        ["Serial", "Mat", "Position", "Length", "Fitted"],
        ["A", "1", "1", "0.5", "2020-05-01"],
        ["B", "1", "1", "0.5", "2023-05-01"],
    ]
    result = understood(("Cables", cables))
    assert rows_of(result, "fittings.csv", "segment", "fitted_on", "removed_on") == [
        ("A", "2020-05-01", "2023-05-01"),
        ("B", "2023-05-01", ""),
    ]
    assert rows_of(result, "segments.csv", "segment", "withdrawn_on") == [("A", "2023-05-01"), ("B", "")]


def test_positions_that_no_sheet_of_cables_names_are_filled_by_the_build():
    cables = [["Serial", "Mat", "Position", "Length"], ["A", "1", "1", "0.6"]]
    result = understood(("Mats", MATS), ("Cables", cables))
    of_mat = [row[1:] for row in rows_of(result, "fittings.csv", "mat", "position", "segment") if row[0] == "1"]
    assert sorted(of_mat) == [("1", "A"), ("2", "C-00001"), ("3", "C-00002"), ("4", "C-00003")]
    assert rows_of(result, "positions.csv", "length_m", "length_basis")[:2] == [("0.6", "known"), ("1", "estimated")]


# events and use


def test_a_row_each_mat_and_event_and_rows_that_leave_the_event_out():
    use = [
        ["Event", "Date", "Mat", "Remark"],
        ["Hill run", "03.05.2026", "1", ""],
        ["", "", "2", ""],
        ["Canal", "12.12.2026", "K1", "gate 2"],
    ]
    result = understood(("Mats", MATS), ("Use", use))
    assert rows_of(result, "usage.csv", "event", "mat", "state") == [
        ("E-2026-01", "1", "went"),
        ("E-2026-01", "2", "went"),
        ("E-2026-02", "K1", "planned"),
    ]
    assert rows_of(result, "notes.csv", "about", "code", "text") == [("event", "E-2026-02", "gate 2")]


def test_what_was_called_off_is_kept_so_and_all_are_those_that_there_were():
    mats = [["Mat", "Build", "Bought"], ["1", "2m/4", "2019"], ["2", "2m/4", "2025"]]
    events = [
        ["Date", "Event", "State", "Mats"],
        ["03.05.2020", "Old one", "", "all"],
        ["03.05.2026", "Rained off", "cancelled", "1"],
    ]
    result = understood(("Mats", mats), ("Events", events))
    assert rows_of(result, "usage.csv", "event", "mat", "state") == [
        ("E-2020-01", "1", "went"),
        ("E-2026-01", "1", "called off"),
    ]


def test_a_column_that_asks_whether_it_was_wet_takes_ticks_and_weather():
    head = ["Date", "Event", "Wet?", "Mats"]
    events = [
        head,
        *([f"0{day}.05.2026", f"Run {day}", wet, "1"] for day, wet in enumerate(["x", "no", "", "snow"], 1)),
    ]
    result = understood(("Mats", MATS), ("Events", events))
    assert rows_of(result, "events.csv", "weather") == [("rain",), ("dry",), ("",), ("snow",)]


def test_an_event_without_a_day_is_listed_and_the_rest_goes_on():
    events = [["Date", "Event", "Mats"], ["", "Hill run", "1"], ["03.05.2026", "Canal", "1, 2 (old), K9"]]
    result = understood(("Mats", MATS), ("Events", events))
    assert unread(result) == [("Events", 1, 0, ""), ("Events", 2, 2, "1, 2 (old), K9")]
    assert [mat for (mat,) in rows_of(result, "usage.csv", "mat")] == ["1", "2"]
    assert rows_of(result, "notes.csv", "text") == [("(old)",)]


def test_days_without_a_year_take_the_one_of_the_sheet():
    events = [["Season 2026"], ["Date", "Event", "Mats"], ["03.05.", "Hill run", "1"], ["9 May", "Canal", "2"]]
    result = understood(("Mats", MATS), ("Events", events))
    assert rows_of(result, "events.csv", "starts_on") == [("2026-05-03",), ("2026-05-09",)]


# calendars


def test_marks_below_months_are_usual_use_names_are_events_and_what_lies_ahead_is_left_out():
    calendar = [
        ["Mat", "Apr", "May", "Jun", "Dec"],
        ["1", "x", "3", "Hill run", "x"],
        ["2", "", "-", "Hill run", ""],
    ]
    result = understood(("Mats", MATS), ("2026", calendar))
    assert rows_of(result, "events.csv", "name", "starts_on") == [
        ("Usual use", "2026-04-15"),
        ("Usual use", "2026-05-15"),
        ("Hill run", "2026-06-15"),
    ]
    assert rows_of(result, "usage.csv", "mat", "counts_for", "basis", "state") == [
        ("1", "1", "usual", "went"),
        ("1", "3", "usual", "went"),
        ("1", "", "", "went"),
        ("2", "", "", "went"),
    ]
    assert assumed(result, Assumption.LEFT_OUT) == [
        "Left out, because marks below a month that is still ahead name no day: 1, Dec 2026."
    ]


@pytest.mark.parametrize(("cell", "times"), [("x", 1), ("xx", 2), ("X x X", 3), ("✓, ✓", 2), ("3x", 3)])
def test_each_mark_below_a_month_is_one_use(cell, times):
    result = understood(
        ("Mats", MATS), ("2026", [["Mat", "Mar", "Apr", "May"], ["1", "", cell, ""], ["2", "x", "", "x"]])
    )
    assert rows_of(result, "usage.csv", "mat", "counts_for")[0] == ("1", str(times))


def test_marks_below_weeks_and_days_are_events_of_that_week_and_day():
    weeks = [["Mat", "KW 17", "KW 18", "KW 19"], ["1", "", "x", ""], ["K1", "", "2", "Canal"]]
    days = [["Mat", date(2026, 5, 9), date(2026, 5, 10), date(2026, 5, 16)], ["2", "✓", "", "no"], ["1", "", "", "x"]]
    result = understood(("Mats", MATS), ("2024", weeks), ("May", days))
    assert rows_of(result, "events.csv", "name", "starts_on", "ends_on") == [
        ("Out, week 18 of 2024", "2024-05-02", "2024-05-02"),
        ("Canal", "2024-05-09", "2024-05-09"),
        ("Out, 9 May 2026", "2026-05-09", "2026-05-09"),
        ("Out, 16 May 2026", "2026-05-16", "2026-05-16"),
    ]
    assert rows_of(result, "usage.csv", "mat", "counts_for")[:2] == [("1", ""), ("K1", "2")]


# readings


def test_readings_of_a_mat_and_position_belong_to_the_cable_that_was_there_that_day():
    readings = [
        ["Mat", "Position", "Date", "dB", "Instrument", "By"],
        ["K1", "1", "03.06.2024", "3,2 dB", "blue box", "Tam"],
        ["K1", "1", "03.06.2024", "-3.1", "blue box", ""],
        ["K1", "P2", "May 2025", "no", "", ""],
        ["K1", "3", "", "1.2", "", ""],
    ]
    result = understood(("Mats", MATS), ("Readings", readings))
    assert rows_of(result, "measurements.csv", "segment", "measured_on", "repeat", "loss_db", "note") == [
        ("C-00009", "2024-06-03", "1", "3.2", ""),
        ("C-00009", "2024-06-03", "2", "3.1", ""),
        ("C-00010", "2025-05-15", "1", "no signal", "Day: “May 2025” in the sheet, so its middle"),
    ]
    assert rows_of(result, "instruments.csv", "instrument", "standard_uncertainty_db") == [("blue box", "0.15")]
    assert unread(result) == [("Readings", 4, 2, "")]


def test_a_cable_of_unknown_age_was_there_when_it_was_first_read():
    readings = [
        ["Mat", "Position", "Date", "Loss dB"],
        ["2", "1", "2021-03-04", "0.4"],
        ["2", "1", "2020-03-04", "0.3"],
    ]
    result = understood(("Mats", MATS), ("Readings", readings))
    fitted = {
        row[:2]: row[2:] for row in rows_of(result, "fittings.csv", "mat", "position", "fitted_on", "fitted_basis")
    }
    assert fitted["2", "1"] == ("2020-03-04", "not later than")
    assert fitted["2", "2"] == ("2026-11-27", "not later than")
    assert len(rows_of(result, "measurements.csv", "segment")) == 2


def test_readings_older_than_the_cables_belong_to_those_that_were_there_before():
    readings = [["Mat", "Position", "Date", "Loss dB"], ["K1", "1", "2022-03-04", "2.9"], ["1", "2", "2023-04-02", "1"]]
    result = understood(("Mats", MATS), ("Readings", readings))
    (earlier,) = [row for row in rows_of(result, "fittings.csv", "mat", "segment", "fitted_on", "removed_on") if row[3]]
    assert earlier == ("K1", "C-00013", "2022-03-04", "2024-05-03")
    assert rows_of(result, "measurements.csv", "segment") == [("C-00013",)]
    assert [row for row in rows_of(result, "segments.csv", "segment", "withdrawn_on") if row[1]] == [
        ("C-00013", "2024-05-03")
    ]
    # of a day within the spring in which they were changed nobody knows which cable it was
    assert unread(result) == [("Readings", 2, 3, "1")]


@pytest.mark.parametrize("cell", ["no signal", "kein Signal", "Kein  Durchgang", "offen"])
def test_no_signal_is_read_in_english_and_german(cell):
    result = understood(("Mats", MATS), ("Loss", [["Matte", "Platz", "Datum", "dB"], ["K1", 1, "03.06.2024", cell]]))
    assert rows_of(result, "measurements.csv", "loss_db") == [("no signal",)]


def test_readings_across_by_position_and_by_day():
    by_position = [["Mat", "Measured on", "P1", "P2", "P3"], ["K1", "03.06.2024", 0.41, 0.73, ""]]
    by_day = [["Cable", date(2025, 5, 3), date(2025, 6, 8), date(2025, 7, 6)], ["C-00009", 0.41, "", 0.52]]
    result = understood(("Mats", MATS), ("Loss", by_position), ("Years", by_day))
    assert rows_of(result, "measurements.csv", "segment", "measured_on", "loss_db") == [
        ("C-00009", "2024-06-03", "0.41"),
        ("C-00010", "2024-06-03", "0.73"),
        ("C-00009", "2025-05-03", "0.41"),
        ("C-00009", "2025-07-06", "0.52"),
    ]


def test_readings_without_any_day_are_asked_about_once():
    by_position = [["Mat", "P1", "P2", "P3"], ["K1", 0.41, 0.73, 1.1], ["2", 0.5, 0.6, 0.7]]
    result = understood(("Mats", MATS), ("Loss", by_position))
    assert [(each.row, each.column) for each in result.unread] == [(0, 0)]
    result = understood(("Mats", MATS), ("Loss", by_position), mended={("Loss", 0, 0): "3 June 2024"})
    assert (unread(result), len(rows_of(result, "measurements.csv", "segment"))) == ([], 6)


# whatever stands in the cells


def test_a_cell_merged_over_rows_holds_for_each_and_can_be_mended_for_one():
    use = [["Date", "Event", "Mat"], ["03.05.2026", "Hill run", "1"], ["", "", "2"]]
    book = make_workbook(make_sheet(MATS, "Mats"), make_sheet(use, "Use", merged=[(1, 0, 2, 0), (1, 1, 2, 1)]))
    meanings = propose(book, {}, KnownCodes())
    assert rows_of(understand(book, meanings, {}, on=ON), "usage.csv", "event", "mat") == [
        ("E-2026-01", "1"),
        ("E-2026-01", "2"),
    ]
    mended = {("Use", 2, 0): "10.05.2026"}
    assert rows_of(understand(book, meanings, mended, on=ON), "events.csv", "starts_on") == [
        ("2026-05-03",),
        ("2026-05-10",),
    ]


def test_every_assumption_has_a_sentence():
    values = {"names": ["1"], "name": "x", "code": "y", "positions": 1, "field": "day", "shortest_m": 1, "longest_m": 2}
    named = {Assumption.NEW_BUILD: ("name", "code", "positions", "names")}
    for what in Assumption:
        said = sentence(Assumed(what, 1, {name: values[name] for name in named.get(what, values)}))
        assert said.endswith(".")


WORDS = ["", "1", "2", "K1", "1-3", "all", "4m/8", "x", "?", "spring 2023", "May 2024", "03.05.2026", "5/6/26", "2019"]
WORDS += [
    "12.12.2027",
    "-1",
    "1e9",
    "0",
    "3,2 dB",
    "no",
    "over",
    "A" * 300,
    "=1+1",
    "\x00bad",
    "two\nlines",
    "add",
    "..",
]
WORDS += [
    "a/b",
    "Mat 4",
    "0,5 to 4",
    "wet",
    "cancelled",
    "١٢",
    "C-00001",
    "E-2026-01",
    "9" * 20,
    "1 2 except 4",
    "never",
]
WORDS += ["3-4 May 2026", "last year", "868 MHz", "31.12.9999", "1000000", "0.0001", "Usual use", "KW 12 2025", "P1"]


@st.composite
def any_sheet(draw, number):
    kind = draw(st.sampled_from([kind for kind in SheetKind if kind != SheetKind.LEFT_OUT]))
    fields = draw(st.lists(st.sampled_from(FIELDS[kind]), min_size=1, max_size=8))
    row = st.lists(st.sampled_from(WORDS), min_size=len(fields), max_size=len(fields))
    rows = draw(st.lists(row, min_size=1, max_size=8))
    columns = tuple(ColumnMeaning(at, name, draw(st.booleans())) for at, name in enumerate(fields))
    order = draw(st.sampled_from(["", "day first", "month first"]))
    return make_sheet(rows, f"S{number}"), SheetMeaning(f"S{number}", kind, 0, 1, len(rows), columns, order)


@given(any_sheet(1), any_sheet(2), st.dictionaries(st.integers(0, 8), st.sampled_from(WORDS), max_size=3))
@settings(max_examples=examples(80))
def test_whatever_stands_in_a_sheet_it_is_read_or_listed(one, other, mended):
    """Never an error, and each row of ours knows a row of the sheets."""
    mended = {("S1", row, 0): text for row, text in mended.items()}
    book = make_workbook(make_sheet(MATS, "Mats"), one[0], other[0])
    meanings = [*propose(make_workbook(make_sheet(MATS, "Mats")), {}, KnownCodes()), one[1], other[1]]
    result = understand(book, meanings, mended, on=ON)
    sheets = {sheet.name: len(sheet.texts) for sheet in book.sheets}
    for file, table in result.tables.items():
        assert len(result.origins[file]) == len(table)
        assert all(origin.row < sheets[origin.sheet] for origin in result.origins[file])
    assert all(each.expected for each in result.unread)
