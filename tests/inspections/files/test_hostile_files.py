"""Input that must not be stored: over the web and by the command, with nothing stored and a sentence to mend it."""

import io
import struct
import zipfile
from datetime import date, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.urls import reverse
from pool_files import pool_files, row_counts, write_folder

pytestmark = pytest.mark.django_db
# before a cell is read, and so before the database is asked about any
refused_unasked = pytest.mark.alike

TODAY = date.today()
TOMORROW = date.today() + timedelta(days=2)
FITTINGS = "segment,fitted_on,mat,position\n"
ORDERS = "work_order,mat,raised_on,position,segment,done_on,left_reason\n"
HOSTILE = {
    "not a CSV": ({"mats": "Dear keeper,\nhere is the list you asked for.\n"}, "mats.csv", "column “Dear keeper”"),
    "empty": ({"mats": b""}, "mats.csv", "an empty file"),
    "binary": ({"mats": bytes(range(256)) * 8}, "mats.csv", "binary content"),
    "a spreadsheet": ({"mats": b"PK\x03\x04" + bytes(40)}, "mats.csv", "a zip or spreadsheet file"),
    "wrong header": ({"mats": "number,kind\nM-1,four\n"}, "mats.csv", "no such column"),
    "extra column": ({"mats": "mat,design,colour\nM-1,four,red\nM-2,four,red\n"}, "mats.csv", "column “colour”"),
    "extra cell": ({"mats": "mat,design\nM-1,four,red\nM-2,four\n"}, "mats.csv", "3 cells"),
    "duplicate rows": ({"mats": "mat,design\nM-1,four\nM-1,four\nM-2,four\n"}, "mats.csv", "line 2 has the same"),
    "measured in the future": (
        {"measurements": f"segment,measured_on,loss_db\nC-1,{TOMORROW},0.7\n"},
        "measurements.csv",
        "is after today",
    ),
    "went in the future": ({"usage": "event,mat,state\nE-3,M-1,went\n"}, "usage.csv", "after today"),
    "position that the design lacks": ({"fittings": FITTINGS + "C-1,2024-02-01,M-1,3\n"}, "fittings.csv", "“3” of M-1"),
    "position occupied twice": (
        {"fittings": FITTINGS + "C-1,2024-02-01,M-1,1\nC-3,2024-03-01,M-1,1\n"},
        "fittings.csv",
        "a position with one segment at a time",
    ),
    "segment in two places": (
        {"fittings": FITTINGS + "C-1,2024-02-01,M-1,1\nC-1,2024-03-01,M-2,1\n"},
        "fittings.csv",
        "a segment in one place at a time",
    ),
    "formula for a number": ({"segments": "segment,cable_type,length_m\nC-1,thin,=1+1\n"}, "segments.csv", "“=1+1”"),
    "quote left open": ({"mats": 'mat,design\n"M-1,four\nM-2,four\n'}, "mats.csv", "each quote closed"),
    "a cell beyond all bounds": ({"mats": f"mat,design\nM-1,{'x' * 200_000}\n"}, "mats.csv", "field larger than"),
    "not a number": ({"segments": "segment,cable_type,length_m\nC-1,thin,nan\n"}, "segments.csv", "“nan”"),
    "number beyond all": ({"segments": "segment,cable_type,length_m\nC-1,thin,1e999\n"}, "segments.csv", "“1e999”"),
    "a line that is done and left": (
        {"work_orders": ORDERS + "W-1,M-1,2025-03-01,1,C-1,2025-03-02,looks new\n"},
        "work_orders.csv",
        "it was done on 2025-03-02",
    ),
    "a cable on two open orders": (
        {"work_orders": f"{ORDERS}W-1,M-1,{TODAY},1,C-1,,\nW-2,M-1,{TODAY},1,C-1,,\n"},
        "work_orders.csv",
        "a cable on one open order at a time",
    ),
    "an order for a mat without that cable": (
        {"work_orders": f"{ORDERS}W-1,M-2,{TODAY},1,C-1,,\n"},
        "work_orders.csv",
        "C-1 is in M-1 position 1",
    ),
    "mark-up": ({"mats": "mat,design\n<script>x</script>,four\n"}, "mats.csv", "A code has no slash"),
}


def uploaded(contents):
    return [SimpleUploadedFile(name, content) for name, content in contents.items()]


def zipped(contents, packed=zipfile.ZIP_DEFLATED):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", packed) as archive:
        for name, content in contents.items():
            archive.writestr(name, content)
    return stream.getvalue()


def send(client, *files):
    return client.post(reverse("inspections:files"), {"files": files})


@pytest.mark.parametrize(("changes", "file", "words"), HOSTILE.values(), ids=HOSTILE)
def test_hostile_file_over_the_web_is_shown_with_its_errors_and_not_stored(keeper_client, changes, file, words):
    before = row_counts()
    answer = send(keeper_client, *uploaded(pool_files(**changes)))
    page = keeper_client.get(answer.url)
    errors = page.context["errors"]
    assert file in {error.file for error in errors}
    assert any(words in f"{error.found} {error.expected}" for error in errors)
    body = page.content.decode()
    assert "nothing can be stored" in body
    assert "Store them" not in body
    assert "<script>x" not in body
    assert row_counts() == before


@pytest.mark.parametrize(("changes", "file", "words"), HOSTILE.values(), ids=HOSTILE)
def test_hostile_file_by_the_command_is_refused_with_its_errors_and_not_stored(tmp_path, changes, file, words):
    before = row_counts()
    folder = write_folder(tmp_path / "in", pool_files(**changes))
    with pytest.raises(CommandError) as refusal:
        call_command("load", folder, stdout=io.StringIO())
    lines = [line for line in str(refusal.value).splitlines() if line.startswith(file)]
    assert any(words in line for line in lines)
    assert refusal.value.returncode == 1
    assert row_counts() == before


def test_confirming_wrong_files_by_hand_stores_nothing(keeper_client):
    before = row_counts()
    waiting = send(keeper_client, *uploaded(pool_files(mats="mat,design\nM-1,nine\n"))).url
    answer = keeper_client.post(waiting, {"token": "0d3c1f6e-0f0e-4c55-9a7e-3a3b7e6f0a11"}, follow=True)
    assert "nothing was stored" in answer.content.decode()
    assert row_counts() == before


def test_cells_that_begin_like_formulas_are_taken_as_text_where_text_belongs(keeper_client):
    text = "mat,reported_on,fault,place,what\nM-1,2025-05-05,1,whole mat,'=1+1\nM-1,2025-05-05,2,whole mat,@x\n"
    page = keeper_client.get(send(keeper_client, *uploaded(pool_files(faults=text))).url)
    assert page.context["errors"] == []


@pytest.mark.parametrize(
    ("names", "words"),
    [
        ({"measurement.csv": b"a\n", "mats.csv": b"mat,design\n"}, "sheets of your own (measurement.csv)"),
        ({"notes.txt": b"a\n"}, "None of the files is here"),
        ({}, "Choose at least one file"),
    ],
)
def test_files_of_other_names_are_named(keeper_client, data_dir, names, words):
    answer = send(keeper_client, *uploaded(names))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not (data_dir / "uploads").exists()


def test_more_than_the_limit_is_refused_by_size_before_it_is_parsed(keeper_client, data_dir, settings):
    settings.UPLOAD_LIMIT_BYTES = 10_000
    # no multipart at all: whoever parsed it would complain of that
    answer = keeper_client.generic("POST", "/files/", b"x" * 10_001, "multipart/form-data; boundary=b")
    assert answer.status_code == 413
    assert "larger than" in answer.content.decode()
    assert "<nav" in answer.content.decode()
    assert not (data_dir / "uploads").exists()


def test_fifty_megabytes_are_the_limit(settings):
    assert settings.UPLOAD_LIMIT_BYTES == 50 * 1024 * 1024


@refused_unasked
@pytest.mark.parametrize(
    "name", ["../mats.csv", "/etc/mats.csv", "a/../../mats.csv", "..\\mats.csv", "C:\\mats.csv", "x/..", ".."]
)
def test_a_zip_whose_paths_lead_out_of_it_is_refused(keeper_client, data_dir, name):
    answer = send(keeper_client, SimpleUploadedFile("pool.zip", zipped({name: b"mat,design\n"})))
    assert answer.status_code == 422
    assert "a path that leads out of it" in answer.content.decode()
    assert not (data_dir / "uploads").exists()


@refused_unasked
def test_a_zip_that_unpacks_to_more_than_the_limit_is_refused(keeper_client, data_dir, settings):
    settings.UPLOAD_LIMIT_BYTES = 1_000_000
    bomb = zipped({"mats.csv": bytes(2_000_000)})
    assert len(bomb) < 10_000
    answer = send(keeper_client, SimpleUploadedFile("pool.zip", bomb))
    assert answer.status_code == 413
    assert not (data_dir / "uploads").exists()


@refused_unasked
def test_a_zip_that_lies_about_its_size_is_refused(keeper_client, data_dir, settings):
    settings.UPLOAD_LIMIT_BYTES = 1_000_000
    bomb = zipped({"mats.csv": bytes(2_000_000)}).replace((2_000_000).to_bytes(4, "little"), (10).to_bytes(4, "little"))
    answer = send(keeper_client, SimpleUploadedFile("pool.zip", bomb))
    assert answer.status_code in (413, 422)
    assert not (data_dir / "uploads").exists()


@refused_unasked
def test_a_zip_of_many_files_is_refused(keeper_client):
    many = zipped({f"{number}.txt": b"" for number in range(201)})
    answer = send(keeper_client, SimpleUploadedFile("pool.zip", many))
    assert answer.status_code == 422
    assert "201 files" in answer.content.decode()


@refused_unasked
def test_a_zip_that_names_a_million_files_is_refused_before_they_are_read(keeper_client):
    one = zipped({"a": b""}).partition(b"PK\x01\x02")[2].partition(b"PK\x05\x06")[0]
    names = (b"PK\x01\x02" + one) * 100_000
    end = struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 65_535, 65_535, len(names), 0, 0)
    answer = send(keeper_client, SimpleUploadedFile("pool.zip", names + end))
    assert answer.status_code == 422
    assert "names far more files than the 200 allowed" in answer.content.decode()


@refused_unasked
@pytest.mark.parametrize("packed", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_zip_that_cannot_be_counted_while_it_is_unpacked_is_refused_unread(keeper_client, data_dir, packed):
    answer = send(keeper_client, SimpleUploadedFile("pool.zip", zipped({"mats.csv": bytes(100_000_000)}, packed)))
    assert answer.status_code == 422
    assert "“mats.csv”, packed in a way that is not read here" in answer.content.decode()
    assert not (data_dir / "uploads").exists()


@refused_unasked
@pytest.mark.parametrize("name", [".", "./.", "x/.", "nothing", "\n", "a" * 60_000])
def test_a_name_in_a_zip_that_is_none_is_passed_over(keeper_client, name):
    content = zipped({name: b"x", "mats.csv": b"mat,design\n"}).replace(b"nothing", b"\0othing")
    answer = send(keeper_client, SimpleUploadedFile("pool.zip", content))
    assert answer.status_code == 302
    assert len(keeper_client.get(answer.url).content) < 20_000


def test_a_hundred_thousand_columns_are_refused_in_linear_time_with_some_of_their_names(keeper_client):
    header = ",".join(f"c{number}" for number in range(100_000))
    page = keeper_client.get(send(keeper_client, *uploaded({"mats.csv": f"mat,design,{header}\n".encode()})).url)
    errors = page.context["errors"]
    assert len(errors) == 21
    assert errors[-1].found == "99,980 more columns of other names"


@refused_unasked
@pytest.mark.parametrize("content", [b"", b"no zip", zipped({"mats.csv": b"mat,design\n" * 99})[:-30]])
def test_a_broken_zip_is_refused(keeper_client, content):
    answer = send(keeper_client, SimpleUploadedFile("pool.zip", content))
    assert answer.status_code == 422
    assert "damaged or has a password" in answer.content.decode()


def test_the_same_name_twice_is_refused(keeper_client):
    content = pool_files()["mats.csv"]
    files = [SimpleUploadedFile("mats.csv", content + ending) for ending in (b"", b"\n")]
    answer = send(keeper_client, *files)
    assert answer.status_code == 422
    assert "More than one file named mats.csv" in answer.content.decode()


@refused_unasked
def test_hundreds_of_files_are_refused_with_a_sentence(keeper_client):
    files = [SimpleUploadedFile(f"{number}.csv", b"a") for number in range(150)]
    answer = keeper_client.post(reverse("inspections:files"), {"files": files}, follow=True)
    assert answer.status_code == 200
    assert "more files than one pool has" in answer.content.decode()


@refused_unasked
def test_a_torn_body_is_answered_with_a_sentence(keeper_client):
    answer = keeper_client.generic("POST", reverse("inspections:files"), b"torn", "multipart/form-data")
    assert answer.status_code == 302
    assert "The files did not arrive complete" in keeper_client.get(answer.url).content.decode()


@pytest.mark.parametrize("file_hash", ["0" * 64, "x", "..", "A" * 64, "0" * 63 + "%2e"])
def test_a_hash_under_which_nothing_waits_is_answered_with_a_sentence(keeper_client, file_hash):
    answer = keeper_client.get(reverse("inspections:files-waiting", args=[file_hash]), follow=True)
    assert answer.status_code == 200
    assert "This upload has expired" in answer.content.decode()
