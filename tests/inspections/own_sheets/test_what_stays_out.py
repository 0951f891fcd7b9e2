"""What of a keeper's sheets stays out, or changes nothing, is said where it happens, and how much it is."""

from datetime import date

import pytest
from dropped_sheets import book_of, drop, store, stored, text_of
from own_sheet_cases import make_sheet, make_workbook

from fleet.models import CableSegment, Mat, Note
from inspections.models import Measurement
from inspections.own_sheets.made.made import make
from inspections.own_sheets.meanings import MAT, USE_BY_HEADING, ColumnMeaning, SheetKind, SheetMeaning
from inspections.own_sheets.reading.known_selectors import KnownMat, KnownPool
from inspections.own_sheets.reading.understanding import understand

pytestmark = pytest.mark.django_db

MATS = [["Mat", "Build", "Depot", "Owner"], [1, "2m/2", "Shed", "Reed Club"], [2, "2m/2", "Shed", "Mill Club"]]


@pytest.fixture
def mats(keeper_client, today):
    return stored(keeper_client, book_of(Mats=MATS))


def made_of(address, on):
    return make(address.split("/")[2], on=on)


def test_a_cell_that_cannot_be_read_says_how_many_rows_stay_out_with_it(keeper_client, mats):
    season = [["Date", "Event", "Mats"], ["soon", "Hill run", "1"], ["03.05.2026", "Canal run", "1, 9"]]
    said = text_of(keeper_client.get(drop(keeper_client, book_of(Season=season))))
    assert "2 cells could not be read. The rest goes on without them, and 1 whole row of the sheets stays out" in said
    assert said.count("1 row stays out whole without it") == 1
    assert "2 cells that could not be read stay out, with 1 whole row" in said


@pytest.mark.alike
def test_with_a_heading_that_cannot_be_read_all_that_stands_below_it_stays_out():
    book = make_workbook(make_sheet([["Mat", "May 2026", "some time"], ["1", "x", "x"], ["2", "", "x"]], "Use"))
    columns = [ColumnMeaning(0, MAT), ColumnMeaning(1, USE_BY_HEADING), ColumnMeaning(2, USE_BY_HEADING)]
    meaning = SheetMeaning("Use", SheetKind.CALENDAR, end_row=3, columns=tuple(columns))
    known = KnownPool(mats=[KnownMat("1", ""), KnownMat("2", "")])
    understood = understand(book, [meaning], {}, on=date(2026, 11, 27), known=known)
    assert understood.hanging == {("Use", 0, 2): 2}


def test_a_changed_owner_that_stays_is_said_with_how_many_and_what_to_choose(keeper_client, mats):
    changed = [MATS[0], [1, "2m/2", "Shed", "Peat Club"], [2, "2m/2", "Shed", "Moor Club"], [3, "2m/2", "Shed", ""]]
    address = drop(keeper_client, book_of(Mats=changed))
    said = text_of(keeper_client.get(address))
    assert "2 cells of the sheets say something else than is stored, and what is stored stays" in said
    assert "2 stay as stored: “replace” takes what is sent" in said
    assert "2 differing cells change nothing" in said
    # what the page proposes is no choice: one press stores
    store(keeper_client, address)
    assert Mat.objects.get(number="1").owner == "Reed Club"
    address = drop(keeper_client, book_of(Mats=changed))
    keeper_client.post(address, {"differ:mats.csv:owner": "replace"})
    assert "change nothing" not in text_of(keeper_client.get(address))
    store(keeper_client, address)
    assert Mat.objects.get(number="1").owner == "Peat Club"


def test_what_is_said_of_the_cables_of_a_mat_out_of_use_is_a_note_and_said(keeper_client, today):
    sheet = [
        ["Mat", "Build", "Cables last changed", "Withdrawn"],
        [1, "2m/2", "2023", ""],
        [2, "2m/2", "2019", "May 2024"],
    ]
    address = drop(keeper_client, book_of(Mats=sheet))
    assert "Out of use: mat 2. No cable is made for what is out of use" in text_of(keeper_client.get(address))
    store(keeper_client, address)
    assert set(CableSegment.objects.values_list("fittings__mat__number", flat=True)) == {"1"}
    notes = Note.objects.filter(mat__number="2").values_list("text", flat=True)
    assert "Day its cables were last changed: “2019” in the sheet" in set(notes)


def test_a_row_whose_serial_is_an_error_speaks_for_no_cable(keeper_client, mats):
    cables = [["Serial", "Mat", "Position", "Length"], ["#N/A", 1, 1, 3.2], ["K-2", 1, 2, 3.6]]
    readings = [["Serial", "Mat", "Position", "Date", "Loss dB"], ["#REF!", 1, 1, "03.05.2026", 1.9]]
    address = drop(keeper_client, book_of(Cables=cables, Readings=readings))
    said = text_of(keeper_client.get(address))
    assert "2 cells could not be read" in said and "2 whole rows" in said, said
    store(keeper_client, address)
    assert not Measurement.objects.exists()
    assert sorted(CableSegment.objects.filter(serial__startswith="K").values_list("serial", flat=True)) == ["K-2"]
    assert not CableSegment.objects.filter(length_m=3.2).exists()


def test_a_rough_day_is_said_to_have_a_note_only_where_it_has_one(keeper_client, mats):
    weeks = [["Mat", "KW 19 2026", "KW 21 2026", "KW 23 2026"], [1, "x", "Hill run", ""]]
    address = drop(keeper_client, book_of(Weeks=weeks))
    rough = {each.first: each for each in made_of(address, date(2026, 11, 27)).understood.rough}
    assert [rough[day].noted for day in sorted(rough)] == [False, True]
    said = text_of(keeper_client.get(address))
    store(keeper_client, address)
    assert said.count("with a note") == Note.objects.filter(about="event").count() == 1


def test_a_load_names_the_file_that_was_dropped_and_depots_are_counted(keeper_client, today):
    address = drop(keeper_client, book_of(Mats=MATS), name="Unsere Matten.xlsx")
    said = text_of(keeper_client.get(address))
    assert "Depots 1 0 0" in said, said
    load_url = store(keeper_client, address).url
    assert "From Unsere Matten.xlsx." in text_of(keeper_client.get(load_url))
    assert "Unsere Matten.xlsx" in text_of(keeper_client.get("/files/"))
