"""notes.csv: each note names what it is about by kind and code; in, out and in again."""

from datetime import date

import pytest
from django.db import transaction
from pool_files import pool_files

from fleet.models import CableSegment, Event, Mat, Note
from fleet.services.notes import add_note
from inspections.files.loading import check_pool_files, load_pool_files
from inspections.files.saving import export_folder

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)
HEAD = "note,on,about,code,text"


def load(contents):
    return load_pool_files(contents, by=None, on=ON)


def notes(*lines, head=HEAD):
    return {"notes.csv": "\n".join([head, *lines, ""]).encode()}


def found(contents):
    """(line, column, what was found, what is expected) of every error."""
    errors = check_pool_files(contents, on=ON).errors.in_order()
    return [(error.line, error.column, error.found, error.expected) for error in errors]


def exported(folder):
    export_folder(folder)
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_each_note_is_about_the_row_that_its_line_names():
    load(pool_files())
    about = {
        note.code: (note.subject, note.text, note.written_by, note.done_on) for note in Note.objects.with_subject()
    }
    assert about == {
        "N-00001": (Mat.objects.get(number="M-1"), "drops on the left side", "ida", None),
        "N-00002": (CableSegment.objects.get(serial="C-1"), "nut is tight", "", date(2025, 6, 1)),
        "N-00003": (Event.objects.get(code="E-1"), "gate by the river", "tam", None),
    }


def test_notes_go_out_in_and_out_again_as_they_were(tmp_path):
    with transaction.atomic():
        load(pool_files())
        add_note(Mat.objects.get(number="M-2"), by=None, on=ON, noted_on=ON, text="=left, 'quoted'; \u00fc")
        first = exported(tmp_path / "first")
        transaction.set_rollback(True)
    assert b"N-00004,2026-09-30,mat,M-2,\"'=left, 'quoted'; \xc3\xbc\",,\r\n" in first["notes.csv"]
    load(first)
    assert exported(tmp_path / "again") == first


def test_notes_that_are_there_already_are_skipped_and_others_refused():
    load(pool_files())
    files, stored = load({"notes.csv": pool_files()["notes.csv"]})
    assert stored is None and files.table("notes.csv").existing.all()
    line = "N-00001,2025-05-06,mat,M-2,drops on the left side"
    expected = (2, "code", "“M-2” for N-00001", "“M-1”, as stored; correct it on its page")
    assert found(notes(line)) == [expected]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("N-1,2026-05-01,mat,M-9,x", ("code", "“M-9”", "a code of mats.csv, or one that is stored already")),
        ("N-1,2026-05-01,segment,M-1,x", ("code", "“M-1”", "a code of segments.csv, or one that is stored already")),
        ("N-1,2026-05-01,event,E-9,x", ("code", "“E-9”", "a code of events.csv, or one that is stored already")),
        ("N-1,2026-05-01,depot,Quay Street,x", ("about", "“depot”", "one of: mat, segment, event")),
        ("N-1,2026-05-01,mat,M-1,", ("text", "an empty cell", "a value: text may not be empty")),
        ("N-1,2026-05-01,mat,,x", ("code", "an empty cell", "a value: code may not be empty")),
        (
            "N-1,2026-10-01,mat,M-1,x",
            ("on", "“2026-10-01”", "The day of the note 1 Oct 2026 is after today, 30 Sep 2026."),
        ),
        (",2026-05-01,mat,M-1,x", ("note", "an empty cell", "a value: note may not be empty")),
    ],
)
def test_a_wrong_cell_is_named_with_what_is_expected(line, expected):
    load(pool_files())
    assert found(notes(line)) == [(2, *expected)]


def test_a_note_is_not_done_before_it_was_written():
    load(pool_files())
    line = "N-9,2026-05-02,mat,M-1,x,2026-05-01"
    expected = (2, "done_on", "“2026-05-01”", "a day not before on, 2026-05-02")
    assert found(notes(line, head=f"{HEAD},done_on")) == [expected]


def test_a_note_may_come_with_what_it_is_about_and_capitals_make_no_other_code():
    load(pool_files(notes=None))
    more = {"mats.csv": b"mat,design\nM-7,four\n"}
    files, _ = load(more | notes("N-1,2026-05-01,mat,m-7,x", "N-2,2026-05-01,segment,c-1,y"))
    assert [note.subject.pk for note in Note.objects.order_by("code")] == [
        Mat.objects.get(number="M-7").pk,
        CableSegment.objects.get(serial="C-1").pk,
    ]
    said = [(warning.column, warning.found) for warning in files.warnings.in_order() if warning.file == "notes.csv"]
    assert said == [("code", "“m-7”"), ("code", "“c-1”")]


def test_what_a_note_is_about_is_not_judged_while_its_file_cannot_be_read():
    load(pool_files(notes=None))
    refused = check_pool_files({"mats.csv": b"\xff\xfe\x00"} | notes("N-1,2026-05-01,mat,M-77,x"), on=ON)
    assert {error.file for error in refused.errors.in_order()} == {"mats.csv"}
