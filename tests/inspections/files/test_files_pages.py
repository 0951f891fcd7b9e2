"""The pages for files in and out, through the client."""

import io
import os
import re
import zipfile

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from page_words import words_in
from pool_files import pool_files, row_counts

from fleet.models import CableSegment, Load, MatDesign
from inspections.files.own_workbooks import own_tables
from inspections.files.sets import LAYOUTS
from inspections.workbooks.reading import read_workbook

pytestmark = pytest.mark.django_db
FILES = "/files/"


def send(client, contents, **extra):
    return client.post(FILES, {"files": [SimpleUploadedFile(*item) for item in contents.items()]}, **extra)


def token_in(page):
    return re.search(r'name="token" value="([^"]+)"', page.content.decode())[1]


def zipped(contents):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, content in contents.items():
            archive.writestr(name, content)
    return {"pool.zip": stream.getvalue()}


def test_files_are_looked_at_confirmed_and_stored(keeper_client, keeper):
    before = row_counts()
    waiting = send(keeper_client, pool_files()).url
    page = keeper_client.get(waiting)
    assert "No error: 26 new rows can be stored. Nothing is stored yet." in " ".join(page.content.decode().split())
    assert {row.record["file"]: row.record["stored"] for row in page.context["counts"].rows}["segments.csv"] == 3
    assert row_counts() == before
    done = keeper_client.post(waiting, {"token": token_in(page)})
    load = Load.objects.get()
    assert done.url == reverse("inspections:load-detail", args=[load.pk])
    assert load.loaded_by == keeper
    result = keeper_client.get(done.url).content.decode()
    assert reverse("inspections:due-list") in result
    assert "segments.csv" in result
    assert CableSegment.objects.count() == 3


def test_a_zip_of_the_files_does_as_well(keeper_client):
    contents = {f"pool/{name}": content for name, content in pool_files().items()} | {"__MACOSX/pool/._mats.csv": b"x"}
    plain = send(keeper_client, pool_files()).url
    assert send(keeper_client, zipped(contents)).url == plain


def test_confirming_twice_stores_once(keeper_client):
    waiting = send(keeper_client, pool_files()).url
    token = token_in(keeper_client.get(waiting))
    answers = [keeper_client.post(waiting, {"token": token}) for _ in range(2)]
    assert answers[0].url == answers[1].url
    assert Load.objects.count() == 1
    assert CableSegment.objects.count() == 3


def test_confirming_again_from_another_window_says_that_the_files_are_gone(keeper_client):
    waiting = send(keeper_client, pool_files()).url
    first, second = (token_in(keeper_client.get(waiting)) for _ in range(2))
    keeper_client.post(waiting, {"token": first})
    answer = keeper_client.post(waiting, {"token": second}, follow=True)
    assert "This upload has expired" in answer.content.decode()
    assert Load.objects.count() == 1


def test_files_are_checked_again_on_confirming(keeper_client):
    waiting = send(keeper_client, pool_files()).url
    token = token_in(keeper_client.get(waiting))
    other = send(keeper_client, {"cable_types.csv": pool_files()["cable_types.csv"].replace(b"0.38", b"0.39")}).url
    keeper_client.post(other, {"token": token_in(keeper_client.get(other))})
    before = row_counts()
    answer = keeper_client.post(waiting, {"token": token}, follow=True)
    body = answer.content.decode()
    assert "“0.38” for thin" in body
    assert "“0.39”, as stored" in body
    assert row_counts() == before


def test_files_with_nothing_new_offer_no_confirming(keeper_client):
    waiting = send(keeper_client, pool_files()).url
    keeper_client.post(waiting, {"token": token_in(keeper_client.get(waiting))})
    page = keeper_client.get(send(keeper_client, pool_files()).url).content.decode()
    assert "Nothing new: every row is stored already." in page
    assert "Store them" not in page


def test_errors_are_listed_by_file_line_and_column(keeper_client):
    page = keeper_client.get(send(keeper_client, pool_files(mats="mat,design\nM-1,nine\nM-2,four\n")).url)
    cells = [words_in(cell) for cell in re.findall(r"<td.*?</td>", page.content.decode(), re.S)]
    assert cells[:4] == ["mats.csv", "2", "design", "“nine”"]


def test_files_may_be_taken_away_again(keeper_client, data_dir):
    waiting = send(keeper_client, pool_files()).url
    assert len(list((data_dir / "uploads").iterdir())) == 1
    keeper_client.post(f"{waiting}leave/")
    assert list((data_dir / "uploads").iterdir()) == []
    assert "This upload has expired" in keeper_client.get(waiting, follow=True).content.decode()


def test_files_wait_from_the_day_on_which_they_were_sent_last(keeper_client, data_dir):
    send(keeper_client, pool_files())
    (folder,) = (data_dir / "uploads").iterdir()
    os.utime(folder, (0, 0))
    page = keeper_client.get(send(keeper_client, pool_files()).url).content.decode()
    assert "The files wait here for 7 days." in page
    assert folder.stat().st_mtime > 0


def test_the_pool_comes_out_as_a_zip_that_loads_again(keeper_client):
    waiting = send(keeper_client, pool_files()).url
    keeper_client.post(waiting, {"token": token_in(keeper_client.get(waiting))})
    answer = keeper_client.get("/files/export/")
    content = b"".join(answer.streaming_content)
    assert answer["Content-Disposition"].startswith("attachment")
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert archive.namelist() == [layout.file for layout in LAYOUTS]
    page = keeper_client.get(send(keeper_client, {"pool.zip": content}).url)
    assert "Nothing new" in page.content.decode()


def test_the_page_says_that_an_export_is_no_backup(keeper_client):
    assert "An export is not a back-up" in keeper_client.get(FILES).content.decode()


@pytest.mark.parametrize("who", ["visitor_client", "bench_client"])
def test_only_a_keeper_loads_and_exports(request, who, data_dir):
    client = request.getfixturevalue(who)
    page = client.get(FILES)
    assert page.status_code == 200
    assert 'type="file"' not in page.content.decode()
    assert send(client, pool_files()).status_code == 403
    assert client.get("/files/export/").status_code == 403
    assert client.get(f"/files/waiting/{'0' * 64}/").status_code == 403
    assert client.post(f"/files/waiting/{'0' * 64}/").status_code == 403
    assert client.post(f"/files/waiting/{'0' * 64}/leave/").status_code == 403
    assert not (data_dir / "uploads").exists()


@pytest.mark.parametrize("address", [FILES, "/files/export/", f"/files/waiting/{'0' * 64}/", "/files/loads/1/"])
def test_nobody_sees_files_without_signing_in(address):
    assert Client().get(address).url == f"/sign-in/?next={address}"
    assert Client().post(address).status_code in (302, 405)


def test_files_sent_from_a_foreign_page_are_refused(keeper, data_dir):
    client = Client(enforce_csrf_checks=True)
    client.force_login(keeper)
    assert send(client, pool_files()).status_code == 403
    assert not (data_dir / "uploads").exists()


def test_what_is_left_aside_is_named(keeper_client):
    answer = send(keeper_client, pool_files() | {"notes.txt": b"a"}, follow=True)
    assert "Left out, because they are not files of a pool: notes.txt." in answer.content.decode()


def test_the_list_of_loads_asks_as_often_for_many_as_for_one(keeper_client, keeper):
    Load.objects.create(loaded_by=keeper)

    def queries():
        with CaptureQueriesContext(connection) as context:
            keeper_client.get(FILES)
        return len(context)

    one = queries()
    for _ in range(9):
        Load.objects.create(loaded_by=keeper)
    assert queries() == one


def unusual_files():
    return pool_files(segments="segment,cable_type,length_m\nC-1,thin,125\nC-2,thin,1.1\nC-3,thin,0.6\n")


def test_unusual_values_are_listed_and_stored_only_with_the_tick(keeper_client):
    waiting = send(keeper_client, unusual_files()).url
    page = keeper_client.get(waiting)
    cells = [words_in(cell) for cell in re.findall(r"<td.*?</td>", page.content.decode(), re.S)]
    assert cells[:4] == ["segments.csv", "2", "length_m", "“125.0”"]
    assert cells[4].startswith("A cable length is mostly 0.05 to 20 m. Did you mean 1.25 m (125 cm)")
    tick = re.search(r'name="confirmed" value="([^"]+)"', page.content.decode())[1]
    for confirmed in ("", "0123456789abcdef"):
        answer = keeper_client.post(waiting, {"token": token_in(page), "confirmed": confirmed}, follow=True)
        assert "1 unusual value: correct it, or say that it is meant." in answer.content.decode()
        assert not Load.objects.exists()
    keeper_client.post(waiting, {"token": token_in(page), "confirmed": tick})
    assert CableSegment.objects.get(serial="C-1").length_m == 125


def test_a_tick_for_other_files_is_none_for_these(keeper_client):
    page = keeper_client.get(send(keeper_client, unusual_files()).url)
    tick = re.search(r'name="confirmed" value="([^"]+)"', page.content.decode())[1]
    others = unusual_files() | {"segments.csv": unusual_files()["segments.csv"].replace(b"125", b"126")}
    waiting = send(keeper_client, others).url
    keeper_client.post(waiting, {"token": token_in(keeper_client.get(waiting)), "confirmed": tick})
    assert not Load.objects.exists()


def test_the_pool_comes_out_as_a_workbook_too(keeper_client):
    waiting = send(keeper_client, pool_files()).url
    keeper_client.post(waiting, {"token": token_in(keeper_client.get(waiting))})
    answer = keeper_client.get("/files/workbook/")
    assert re.fullmatch(r'attachment; filename="pool-\d{4}-\d\d-\d\d\.xlsx"', answer["Content-Disposition"])
    tables = own_tables(read_workbook("pool.xlsx", b"".join(answer.streaming_content)))
    assert list(tables) == [layout.file for layout in LAYOUTS]
    assert tables["mats.csv"].cells["mat"].tolist() == ["M-1", "M-2"]


def test_a_pool_that_no_workbook_can_hold_says_so_instead(keeper_client):
    waiting = send(keeper_client, pool_files()).url
    keeper_client.post(waiting, {"token": token_in(keeper_client.get(waiting))})
    MatDesign.objects.update(steps="x" * 40_000)
    page = keeper_client.get("/files/workbook/", follow=True).content.decode()
    assert "mat_designs, cell E2: a text of 40,000 characters" in page


@pytest.mark.parametrize("address", ["/files/workbook/", "/files/template/"])
def test_workbooks_are_the_keepers(address, keeper_client, bench_client, visitor_client):
    answer = keeper_client.get(address)
    assert (answer.status_code, b"".join(answer.streaming_content)[:2]) == (200, b"PK")
    assert [client.get(address).status_code for client in (bench_client, visitor_client)] == [403, 403]
