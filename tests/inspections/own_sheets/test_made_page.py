"""The page that says what will be made of a keeper's sheets: mend, choose, store as one load, take back."""

import re
from copy import deepcopy
from datetime import date, timedelta

import dropped_sheets
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from dropped_sheets import book_of, store, text_of
from page_forms import form_in

from fleet.models import CableSegment, Event, Fitting, Load, Mat, UsageEvent
from fleet.services.register import add_depot, add_mat
from inspections.own_sheets.made.mending import waiting_said

pytestmark = pytest.mark.django_db

MATS = [
    ["Our mats"],
    ["Mat", "Build", "Depot", "Owner", "Cables last changed", "Bought"],
    [1, "4m/8", "Shed", "", "spring 2023", 2019],
    [2, "4m/8", "Shed", "", "03.05.2024", 2019],
    [3, "4m/8", "Shed", "", "when Odo was here", 2019],
    [4, "2m/4", "Shed", "", "2022", 2020],
]
EVENTS = [
    ["Date", "Event", "Where", "Weather", "Mats"],
    ["03.05.2026", "Hill run", "Upper Mill", "dry", "1-3"],
    ["09.05.2026", "Canal run", "Quay Street", "rain", "2, 9"],
]


def workbook(mats=MATS, events=EVENTS):
    return book_of(Mats=mats, Season=events)


def drop(client, content=None):
    return dropped_sheets.drop(client, content or workbook())


def field_of(page, words):
    """The name of the field that is labelled with these words."""
    (name,) = re.findall(rf'name="([^"]+)"[^>]*?aria-label="What it should say: {words}"', page.content.decode(), re.S)
    return name


def test_a_workbook_is_mended_stored_as_one_load_and_taken_back(keeper_client, today):
    address = drop(keeper_client)
    page = keeper_client.get(address)
    said = text_of(page)
    assert "2 cells could not be read" in said, said
    assert not Mat.objects.exists()
    mended = {field_of(page, "Mats, column E, row 5"): "May 2024", field_of(page, "Season, column E, row 3"): "2, 4"}
    again = keeper_client.post(address, form_in(page) | mended)
    assert again.url == address
    page = keeper_client.get(address)
    assert "could not be read" not in text_of(page)
    assert "2 mended or left out" in text_of(page)
    answer = store(keeper_client, address)
    load = Load.objects.get()
    assert answer.url == f"/files/loads/{load.pk}/"
    assert sorted(Mat.objects.values_list("number", flat=True)) == ["1", "2", "3", "4"]
    assert Event.objects.count() == 2
    assert UsageEvent.objects.filter(event__name="Canal run").count() == 2
    assert set(Fitting.objects.filter(mat__number="3").values_list("fitted_on", flat=True)) == {date(2024, 5, 15)}
    assert CableSegment.objects.count() == 28
    back = f"/files/loads/{load.pk}/take-back/"
    keeper_client.post(back, form_in(keeper_client.get(back)) | {"reason": "only tried"})
    assert not Mat.objects.exists() and not Event.objects.exists() and not CableSegment.objects.exists()


def stored(client, content=None):
    return dropped_sheets.stored(client, content or workbook())


def test_what_was_mended_is_kept_for_as_long_as_the_file_waits(keeper_client):
    content = workbook()
    address = drop(keeper_client, content)
    page = keeper_client.get(address)
    name = field_of(page, "Mats, column E, row 5")
    keeper_client.post(address, form_in(page) | {name: "nobody knows"})
    assert "nobody knows" in keeper_client.get(address).content.decode()
    # from a page that was opened before, somebody else mends another cell
    other = field_of(page, "Season, column E, row 3")
    keeper_client.post(address, {other: "2, 4"})
    assert drop(keeper_client, content) == address
    file_hash = address.split("/")[2]
    assert waiting_said(file_hash).cells == {("Mats", 4, 4): "nobody knows", ("Season", 2, 4): "2, 4"}
    # what stands in the sheet, written again, is mended no more
    keeper_client.post(address, {other: "2, 9", name: "when Odo  was here"})
    assert waiting_said(file_hash).cells == {}


def test_what_was_mended_but_not_looked_at_is_not_stored(keeper_client):
    address = drop(keeper_client)
    page = keeper_client.get(address)
    answer = store(keeper_client, address, **{field_of(page, "Season, column E, row 3"): "2, 4"})
    assert answer.url == address and not Load.objects.exists()
    assert "1 cell could not be read" in text_of(keeper_client.get(address))


def test_a_second_drop_changes_nothing_and_a_newer_version_only_what_changed(keeper_client):
    first = stored(keeper_client)
    assert "Nothing new" in text_of(keeper_client.get(drop(keeper_client)))
    mats, events = deepcopy(MATS), deepcopy(EVENTS)
    mats[2][2], mats[3][3] = "Barn", "the club"
    events.append(["10.05.2026", "Extra run", "", "", "1"])
    newer = workbook(mats, events)
    address = drop(keeper_client, newer)
    said = text_of(keeper_client.get(address))
    assert "2 new records and 1 correction" in said, said
    assert "1: Shed, sent Barn" in said
    replaced = {"differ:mats.csv:depot": "replace"}
    keeper_client.post(address, form_in(keeper_client.get(address)) | replaced)
    # the depot that the sheet names is new by then
    assert "3 new records and 2 corrections" in text_of(keeper_client.get(address))
    store(keeper_client, address)
    assert list(Mat.objects.filter(number__in="12").values_list("depot__name", "owner")) == [
        ("Barn", ""),
        ("Shed", "the club"),
    ]
    assert Event.objects.count() == 3
    second = Load.objects.latest("pk")
    assert second != first
    back = f"/files/loads/{second.pk}/take-back/"
    keeper_client.post(back, form_in(keeper_client.get(back)) | {"reason": "only tried"})
    assert set(Mat.objects.values_list("depot__name", "owner")) == {("Shed", "")}
    assert Event.objects.count() == 2


def test_of_what_the_pool_does_not_have_nobody_says_that_it_has_it(keeper_client):
    stored(keeper_client)
    readings = [["Serial", "Loss in dB", "Measured on"], ["none such", 0.71, "03.05.2026"]]
    nothing_read = text_of(keeper_client.get(drop(keeper_client, workbook(readings, [[]]))))
    assert "There is nothing to store: what could not be read is needed for the rest." in nothing_read
    assert "The rest goes on" not in nothing_read
    nothing_taken = text_of(keeper_client.get(drop(keeper_client, workbook([[]], [["Recipe", "Flour"], ["Cake", 2]]))))
    assert "There is nothing to store: no row of it is taken." in nothing_taken
    moved = deepcopy(MATS)
    moved[2][2] = "Barn"
    otherwise = text_of(keeper_client.get(drop(keeper_client, workbook(moved))))
    assert "Nothing new, but the pool has some of it otherwise" in otherwise


def test_sent_twice_it_is_stored_once(keeper_client):
    address = drop(keeper_client)
    form = form_in(keeper_client.get(address)) | {"store": "yes"}
    first, second = keeper_client.post(address, form), keeper_client.post(address, form)
    assert first.url == second.url == f"/files/loads/{Load.objects.get().pk}/"


def test_what_is_stored_is_what_was_shown(keeper_client, keeper, today):
    address = drop(keeper_client)
    add_depot(name="Barn", by=keeper)
    assert store(keeper_client, address).url.startswith("/files/loads/")
    other = drop(keeper_client, workbook([*MATS, [5, "2m/4", "Barn", "", "", ""]]))
    form = form_in(keeper_client.get(other)) | {"store": "yes"}
    add_mat(number="5", design=Mat.objects.get(number="4").design, by=keeper, on=today)
    refused = keeper_client.post(other, form, follow=True)
    assert "Somebody changed the pool" in text_of(refused)
    assert Load.objects.count() == 1


def test_a_row_that_does_not_fit_is_mended_or_left_out(keeper_client, today):
    """Mats that are planned for two events on one day."""
    day = (today + timedelta(days=30)).isoformat()
    later = (today + timedelta(days=31)).isoformat()
    ahead = [[day, "Hill run", "", "", "1"], [day, "Mill run", "", "", "1, 2"]]
    ahead += [[later, "Fen run", "", "", "3"], [later, "Bank run", "", "", "3"]]
    address = drop(keeper_client, workbook(events=[*EVENTS[:1], *ahead]))
    page = keeper_client.get(address)
    assert "2 things do not fit" in text_of(page), text_of(page)
    assert "A mat planned once a day; row 2 of Season: E-" in text_of(page)
    assert not re.search('name="store"', page.content.decode())
    (left,) = re.findall(r'name="(leave-\d+-4)"', page.content.decode())
    mended = {field_of(page, "Season, column E, row 3"): "2", left: "yes"}
    keeper_client.post(address, form_in(page) | mended)
    page = keeper_client.get(address)
    assert "do not fit" not in text_of(page), text_of(page)
    assert "Season, row 5: left out" in text_of(page)
    store(keeper_client, address)
    assert sorted(Event.objects.values_list("name", flat=True)) == ["Fen run", "Hill run", "Mill run"]
    assert UsageEvent.objects.filter(event__name="Mill run").get().mat.number == "2"


@pytest.mark.parametrize(
    "name, value",
    [
        ("cell-9-0-0", "x"),
        ("cell-0-9999999-1", "x"),
        ("cell-0-1-9999999", "x"),
        ("cell-0-4-4", "x" * 2001),
        ("cell-0-4-4", "a\0b\x07"),
        ("asks-leave-99-1", "yes"),
        ("differ:mats.csv:nothing", "replace"),
        ("differ:x", "replace"),
        ("differ:mats.csv:depot", "burn"),
        ("store", "yes"),
        ("token", "none"),
    ],
)
def test_whatever_is_sent_is_no_failure_and_stores_nothing(keeper_client, name, value):
    address = drop(keeper_client)
    answer = keeper_client.post(address, {name: value}, follow=True)
    assert answer.status_code == 200
    assert not Load.objects.exists()


def test_what_waits_no_more_is_said(keeper_client):
    address = drop(keeper_client)
    keeper_client.post(address.replace("/made/", "/leave/").replace("/files/", "/files/waiting/"))
    for answer in (keeper_client.get(address, follow=True), keeper_client.post(address, {"store": "yes"}, follow=True)):
        assert "expired" in text_of(answer)


def test_the_page_asks_as_often_for_many_rows_as_for_few(keeper_client):
    def queries(numbers):
        mats = [*MATS[:2], *([number, "2m/4", "Shed", "", "2022", ""] for number in numbers)]
        address = drop(keeper_client, workbook(mats))
        with CaptureQueriesContext(connection) as asked:
            keeper_client.get(address)
        return len(asked)

    assert queries(range(1, 3)) == queries(range(1, 41))
