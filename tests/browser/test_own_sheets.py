"""Two spreadsheets as a keeper has them: dropped, said what their columns mean, mended, stored, and taken back."""

import csv
import io

import openpyxl
import pytest

from fleet.models import CableSegment, Event, Fitting, Load, Mat, UsageEvent

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SINCE = ["spring 2023"] * 3 + ["03.05.2024"] * 4 + ["?", "", "2022", "2024", "Q3 24", "when Odo was here", "May 2024"]
MATS = [
    ["Our mats, state of last week"],
    [],
    ["Mat", "Build", "Depot", "Cables last changed", "Bought", "Remarks"],
    *(
        [number, "4m/8" if number < 10 else "2m/4", "Shed", since, "2019" if number < 14 else "05/2024", ""]
        for number, since in enumerate(SINCE, 1)
    ),
]
EVENTS = [
    ["Date", "Event", "Where", "Weather", "Mats"],
    ["03.05.2025", "Hill run", "Upper Mill", "wet", "1-3, 7"],
    ["09.05.2025", "Canal run", "Quay Street", "dry", "all"],
    ["5.6.2025", "Gravel ride", "", "", "1/2 and 14, 77"],
]


def book(rows):
    made, stream = openpyxl.Workbook(), io.BytesIO()
    for row in rows:
        made.active.append(row)
    made.save(stream)
    return stream.getvalue()


def listed(rows):
    stream = io.StringIO()
    csv.writer(stream, delimiter=";").writerows(rows)
    return stream.getvalue().encode("latin-1")


def go_on(page, name, heading):
    page.get_by_role("button", name=name, exact=True).last.click()
    page.get_by_role("heading", name=heading, exact=True).first.wait_for()


def mend(page, label, text):
    page.get_by_label(f"What it should say: {label}", exact=True).fill(text)


def test_two_spreadsheets_come_in_as_they_are_and_go_again(open_page, keeper):
    page = open_page(keeper)
    page.goto("/files/")
    files = [("our mats.xlsx", book(MATS)), ("season.csv", listed(EVENTS))]
    page.locator("input[type=file]").set_input_files(
        [{"name": name, "mimeType": "application/octet-stream", "buffer": content} for name, content in files]
    )
    go_on(page, "Check the files", "What its columns mean")
    for question in page.get_by_label("the day stands first").all():
        question.check()
    go_on(page, "Go on", "What will be made of it")
    mend(page, "Sheet, column D, row 16", "autumn 2021")
    mend(page, "season, column E, row 4", "1/2 and 14")
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.set_viewport_size({"width": 1280, "height": 900})
    go_on(page, "Read again", "Mended")
    assert page.get_by_role("heading", name="What could not be read").count() == 0
    assert not Load.objects.exists()
    go_on(page, "Store it", "What it brought")
    assert (Mat.objects.count(), Event.objects.count(), UsageEvent.objects.count()) == (14, 3, 4 + 14 + 3)
    assert CableSegment.objects.count() == Fitting.objects.filter(removed_on=None).count() == 9 * 8 + 5 * 4
    page.get_by_role("link", name="Take it back").click()
    page.get_by_label("Why it is taken back").fill("only tried")
    go_on(page, "Take it back", "What it brought")
    assert not Mat.objects.exists() and not Event.objects.exists() and not CableSegment.objects.exists()
