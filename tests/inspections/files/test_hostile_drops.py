"""Broken or hostile workbooks, dropped on the page: a sentence, never a failure, and nothing is stored."""

import hostile_workbooks as hostile
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from pool_files import row_counts

pytestmark = pytest.mark.django_db
REFUSED = {
    "far.xlsx": (lambda: hostile.with_cells(hostile.far_cells()["a row of a billion"]), "far.xlsx is damaged"),
    "wide.csv": (hostile.million_columns_of_text, "At most 5,000 columns"),
    "long.xlsx": (hostile.long_cell, "10,000,000 characters"),
    "laughs.xlsx": (hostile.million_laughs, "laughs.xlsx is damaged"),
    "entity.ods": (hostile.entity_of_a_file, "entity.ods is damaged"),
    "repeats.ods": (lambda: hostile.repeats(1_000_000, 1_000), "reaches to cell ALL1000000"),
    "locked.xls": (hostile.locked_xls, "protected by a password"),
    "locked.xlsx": (lambda: hostile.compound("EncryptedPackage"), "protected by a password"),
    "charts.xlsm": (hostile.macros_alone, "only macros or charts"),
    "page.xls": (lambda: b"<html><table></table></html>", "is a web page"),
    "cut.xlsx": (lambda: hostile.plain_xlsx()[:900], "cut.xlsx is damaged"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_hostile_workbook_is_named_as_what_it_is(name, keeper_client):
    make, said = REFUSED[name]
    before = row_counts()
    page = keeper_client.post("/files/", {"files": SimpleUploadedFile(name, make())}, follow=True)
    assert page.status_code in (200, 422)
    assert said in page.content.decode()
    assert row_counts() == before


@pytest.mark.parametrize(
    "make", [hostile.links_and_circles, hostile.days_before_all_days, hostile.days_before_all_days_of_an_older_kind]
)
def test_what_can_be_read_is_asked_about_and_not_stored(make, keeper_client):
    before = row_counts()
    page = keeper_client.post("/files/", {"files": SimpleUploadedFile("list.xlsx", make())}, follow=True)
    assert (page.status_code, "columns" in page.request["PATH_INFO"]) == (200, True)
    assert row_counts() == before
