"""A keeper's own sheets over the web: sent as they are, asked about once, kept for the next of their shape."""

import io
import re
from datetime import date

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from page_words import words_in as words_of

from fleet.models import Mat, MatDesign
from inspections.models import KeptMeaning
from inspections.own_sheets.meanings import SheetKind
from inspections.own_sheets.waiting_sheets import waiting_meanings

pytestmark = pytest.mark.django_db
MATS = [
    ["Our mats"],
    [],
    ["No", "Build", "Bought", "Cables last changed", "Bag"],
    [1, "4m/8", "2019", "spring 2023", "red"],
    [2, "4m/8", "05/2024", None, "blue"],
]
EVENTS = [["Date", "Race", "Mats used"], ["5/3/24", "Spring run", "1-2"], [date(2024, 6, 8), "Fen ten", "all"]]
BOTH = {"Mats": MATS, "2024": EVENTS}


def words_in(answer):
    return words_of(answer.content.decode())


def workbook(sheets, hidden=()):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        sheet.sheet_state = "hidden" if name in hidden else "visible"
        for row in rows:
            sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def send(client, name, content):
    return client.post("/files/", {"files": [SimpleUploadedFile(name, content)]})


def dropped(client, sheets=BOTH, **kwargs):
    """The address of the page that asks about these sheets."""
    answer = send(client, "ours.xlsx", workbook(sheets, **kwargs))
    assert answer.status_code == 302
    assert answer.url.endswith("/columns/")
    return answer.url


def hash_in(address):
    return re.search("[0-9a-f]{64}", address)[0]


def sent(page, **changes):
    """All fields of the form as the page fills them in, with these changes; `sheet0_kind` stands for `sheet0-kind`."""
    form = page.context["form"]
    parts = [form, *form.sheets, *(build for sheet in form.sheets for build in sheet.builds)]
    said = {field.html_name: field.value() for part in parts for field in part}
    said = {name: "" if value is None else value for name, value in said.items()}
    return said | {name.replace("_", "-", 1) if name[:5] == "sheet" else name: value for name, value in changes.items()}


def test_a_workbook_is_shown_with_what_each_column_was_taken_for_and_kept_when_it_is_right(keeper_client):
    address = dropped(keeper_client)
    page = keeper_client.get(address)
    said = [column.value() for sheet in page.context["form"].sheets for _, column in sheet.rows]
    assert said == ["mat", "build", "acquired", "cables changed", "", "starts", "event", "mats"]
    words = words_in(page)
    assert "ours.xlsx: 2 of 2 sheets would be taken. Nothing is stored yet." in words
    assert "spring 2023" in words
    assert "What stands first in “5/3/24”?" in words
    answer = keeper_client.post(address, sent(page, day_order="day first", sheet0_column4="as note"))
    assert answer.url == address.replace("columns", "made")
    mats, events = waiting_meanings(hash_in(address))
    assert (mats.kind, mats.header_row, mats.first_row, mats.end_row) == (SheetKind.MATS, 2, 3, 5)
    assert mats.noted == [4]
    assert {mats.day_order, events.day_order} == {"day first"}
    assert Mat.objects.count() == 0


def test_what_can_be_two_days_is_asked_once_and_not_guessed(keeper_client):
    address = dropped(keeper_client)
    answer = keeper_client.post(address, sent(keeper_client.get(address)))
    assert answer.status_code == 422
    assert "“5/3/24” can be two days. Say which." in words_in(answer)
    assert waiting_meanings(hash_in(address)) is None


def test_the_next_file_of_that_shape_is_filled_in_as_it_was_said(keeper_client):
    address = dropped(keeper_client)
    keeper_client.post(address, sent(keeper_client.get(address), day_order="month first", sheet0_column4="as note"))
    assert KeptMeaning.objects.count() == 2
    newer = {"Mats": [*MATS, [3, "4m/8", "2024", None, "red"]], "2025": [*EVENTS, ["7/4/25", "Dyke", "3"]]}
    page = keeper_client.get(dropped(keeper_client, newer))
    assert "It is filled in as it was said of such a sheet before." in words_in(page)
    form = page.context["form"]
    assert [column.value() for _, column in form.sheets[0].rows][4] == "as note"
    assert form["day_order"].value() == "month first"


def test_what_is_said_anew_takes_the_place_of_what_was_kept_and_the_trail_has_both(keeper_client):
    address = dropped(keeper_client, {"Mats": MATS})
    for word in ("as note", "", ""):
        keeper_client.post(address, sent(keeper_client.get(address), sheet0_column4=word))
    kept = KeptMeaning.objects.get()
    assert kept.said["columns"][4] == ["", False]
    assert kept.history.count() == 2


def test_another_kind_is_shown_with_columns_of_its_own_before_anything_is_kept(keeper_client):
    address = dropped(keeper_client, {"2024": EVENTS, "Sizes": [["Shoe", "Colour"], ["41", "red"]]})
    page = keeper_client.get(address)
    assert [sheet.meaning.kind for sheet in page.context["form"].sheets] == ["events", "left out"]
    page = keeper_client.post(address, sent(page, day_order="day first", sheet1_kind="mats"))
    assert page.status_code == 200
    turned = page.context["form"].sheets[1]
    assert turned.meaning.kind == "mats"
    assert [column.value() for _, column in turned.rows] == ["", ""]
    assert page.context["form"]["day_order"].value() == "day first"
    refused = keeper_client.post(address, sent(page))
    assert refused.status_code == 422
    assert "Say of one column that it is: “Mat number”." in words_in(refused)
    answer = keeper_client.post(address, sent(page, sheet1_column0="mat", sheet1_column1="build"))
    assert answer.status_code == 200
    assert [build.asked.name for build in answer.context["form"].sheets[1].builds] == ["red"]
    assert keeper_client.post(address, sent(answer)).status_code == 302


def test_two_columns_cannot_be_the_same(keeper_client):
    address = dropped(keeper_client, {"Mats": MATS})
    answer = keeper_client.post(address, sent(keeper_client.get(address), sheet0_column4="mat"))
    assert answer.status_code == 422
    assert "Columns A and E are all “Mat number”. Only one of them can be." in words_in(answer)


def test_how_a_build_is_made_is_asked_with_what_its_name_tells(keeper_client):
    address = dropped(keeper_client, {"Mats": MATS})
    page = keeper_client.get(address)
    [build] = page.context["form"].sheets[0].builds
    assert [build[name].value() for name in ("width_m", "cables")] == ["4", "8"]
    said = sent(page) | {build["lengths_m"].html_name: "0,5 to 4"}
    assert keeper_client.post(address, said | {build["width_m"].html_name: "wide"}).status_code == 422
    keeper_client.post(address, said)
    [mats] = waiting_meanings(hash_in(address))
    assert mats.answers == {"builds": {"4m/8": {"width_m": "4", "cables": "8", "lengths_m": "0,5 to 4"}}}


def test_rows_can_be_set_by_hand(keeper_client):
    address = dropped(keeper_client, {"Mats": MATS})
    page = keeper_client.get(address)
    page = keeper_client.post(address, sent(page, sheet0_last_row="4"))
    assert page.context["form"].sheets[0].row_count == 1
    too_far = keeper_client.post(address, sent(page, sheet0_last_row="400"))
    assert too_far.status_code == 422
    assert "The sheet ends with row 5." in words_in(too_far)
    assert keeper_client.post(address, sent(page)).status_code == 302
    assert waiting_meanings(hash_in(address))[0].end_row == 4


def test_a_year_that_is_nowhere_is_asked(keeper_client):
    address = dropped(keeper_client, {"Use": [["Mat", "Jan", "Feb", "Mar"], ["1", "x", None, "x"]]})
    page = keeper_client.get(address)
    assert "Year of “Jan”" in words_in(page)
    assert keeper_client.post(address, sent(page)).status_code == 422
    assert keeper_client.post(address, sent(page, sheet0_year="2023")).status_code == 302
    assert waiting_meanings(hash_in(address))[0].answers == {"year": "2023"}


def test_hidden_sheets_are_offered_and_not_taken(keeper_client):
    page = keeper_client.get(dropped(keeper_client, BOTH, hidden=["Mats"]))
    assert "A hidden sheet of the workbook. It is not taken unless you say what it holds." in words_in(page)
    assert page.context["taken"] == 1


def test_what_is_said_of_a_hidden_copy_is_not_said_of_the_sheet_itself_nor_the_other_way_round(keeper_client):
    for _ in range(2):
        address = dropped(keeper_client, {"Mats": MATS, "Mats 2023": MATS, "Summary": MATS}, hidden=["Mats 2023"])
        page = keeper_client.get(address)
        assert [sheet.meaning.kind for sheet in page.context["form"].sheets] == ["mats", "left out", "left out"]
        assert keeper_client.post(address, sent(page)).status_code == 302


@pytest.mark.parametrize("name", ["mats.csv", "Mats of ours.csv"])
def test_a_csv_with_headings_of_its_own_is_asked_about_under_any_name(keeper_client, name):
    content = "Matten-Nr.;Bauart;Gekauft am\n1;4m/8;03.05.2019\n".encode("cp1252")
    page = keeper_client.get(send(keeper_client, name, content).url)
    assert [column.value() for _, column in page.context["form"].sheets[0].rows] == ["mat", "build", "acquired"]


def test_files_of_the_app_go_on_as_before_and_do_not_come_with_others(keeper_client, data_dir):
    ours = SimpleUploadedFile("mats.csv", b"mat,design\nM-1,D\n")
    own = SimpleUploadedFile("list.xlsx", workbook({"Mats": MATS}))
    answer = keeper_client.post("/files/", {"files": [ours, own]})
    assert answer.status_code == 422
    assert "Send your own sheets by themselves." in words_in(answer)
    assert not (data_dir / "uploads").exists()


def test_one_of_our_names_with_some_other_headings_leads_here_from_its_errors(keeper_client):
    page = keeper_client.get(send(keeper_client, "mats.csv", b"mat;Bauart;Gekauft\n1;4m/8;2019\n").url)
    assert page.context["errors"]
    address = re.search(r'href="([^"]+/columns/)"', page.content.decode())[1]
    form = keeper_client.get(address).context["form"]
    assert [column.value() for _, column in form.sheets[0].rows] == ["mat", "build", "acquired"]


def test_sheets_of_several_files_are_asked_about_on_one_page(keeper_client):
    files = [SimpleUploadedFile(f"{year}.xlsx", workbook({"Races": EVENTS})) for year in (2023, 2024)]
    page = keeper_client.get(keeper_client.post("/files/", {"files": files}).url)
    assert [sheet.sheet.name for sheet in page.context["form"].sheets] == ["2023: Races", "2024: Races"]


UNREADABLE = [("list.xlsx", b"\x00\x01"), ("list.ods", b"PK\x03\x04"), ("a.xls", b"")]


@pytest.mark.parametrize(("name", "content"), UNREADABLE)
def test_a_file_that_cannot_be_read_is_said_and_waits_no_longer(keeper_client, data_dir, name, content):
    answer = send(keeper_client, name, content)
    assert answer.status_code == 422
    assert name in words_in(answer)
    assert list((data_dir / "uploads").iterdir()) == []


def test_a_workbook_of_the_pools_own_columns_is_loaded_like_its_files(keeper_client):
    rows = [["design", "width_m"], ["F-4", 4]]
    sent_to = send(keeper_client, "pool.xlsx", workbook({"mat_designs": rows})).url
    assert sent_to.startswith("/files/waiting/")
    page = keeper_client.get(sent_to)
    assert "No error: 1 new row can be stored." in words_in(page)
    token = re.search(r'name="token" value="([^"]+)"', page.content.decode())[1]
    keeper_client.post(sent_to, {"token": token})
    assert MatDesign.objects.get().width_m == 4


def test_what_waits_no_longer_is_said(keeper_client):
    address = dropped(keeper_client)
    keeper_client.post(f"/files/waiting/{hash_in(address)}/leave/")
    answer = keeper_client.get(address, follow=True)
    assert "This upload has expired. Send the files again." in words_in(answer)


MARKS = [
    "",
    "mats|x|1",
    "mats|99999|3",
    "none|1|2",
    "mats|1|0",
    "mats|1",
    "mats|-1|3",
    "mats|²|3",
    f"mats|1|{'9' * 5000}",
]


@pytest.mark.parametrize("shown", MARKS)
def test_a_mark_that_the_page_did_not_write_is_no_error(keeper_client, shown):
    address = dropped(keeper_client)
    answer = keeper_client.post(address, sent(keeper_client.get(address), sheet0_shown=shown))
    assert answer.status_code in (200, 422)
