import io
import os
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest
from django.core.management import CommandError, call_command
from pool_files import pool_files, row_counts, write_folder

from fleet.models import Load, Mat
from inspections.files.own_workbooks import own_tables
from inspections.workbooks.reading import read_workbook

pytestmark = pytest.mark.django_db
ROOT = Path(__file__).parents[3]


def run(*arguments):
    out = io.StringIO()
    call_command(*arguments, stdout=out, stderr=out)
    return out.getvalue()


def refused(*arguments):
    with pytest.raises(CommandError) as refusal:
        run(*arguments)
    return str(refusal.value)


def test_load_stores_with_progress_and_counts(tmp_path):
    output = run("load", write_folder(tmp_path / "in", pool_files()))
    assert "segments.csv: 3 rows read" in output
    assert "segments.csv: 3 of 3 rows stored" in output
    assert "segments.csv: 3 rows, 3 stored" in output
    assert Load.objects.get().loaded_by is None


def test_a_second_load_stores_nothing_and_says_so(tmp_path):
    folder = write_folder(tmp_path / "in", pool_files())
    run("load", folder)
    before = row_counts()
    output = run("load", folder)
    assert "segments.csv: 3 rows, 0 stored, 3 stored before" in output
    assert "Nothing new" in output
    assert row_counts() == before


def test_check_stores_nothing(tmp_path):
    before = row_counts()
    assert "segments.csv: 3 rows, 3 new" in run("load", write_folder(tmp_path / "in", pool_files()), "--check")
    assert row_counts() == before


def test_check_refuses_what_load_would_refuse(tmp_path):
    folder = write_folder(tmp_path / "in", pool_files(mats="mat,design\nM-1,nine\n"))
    assert refused("load", folder, "--check") == refused("load", folder)


def test_the_printed_list_is_cut_and_says_how_many_more(tmp_path):
    rows = "".join(f"C-{number},thin,x\n" for number in range(80))
    folder = write_folder(tmp_path / "in", {"segments.csv": b"segment,cable_type,length_m\n" + rows.encode()})
    lines = refused("load", folder).splitlines()
    assert len([line for line in lines if line.startswith("segments.csv, line ")]) == 50
    assert lines[-2:] == ["… and 110 more errors", "160 errors: nothing was stored."]


def test_what_is_no_file_of_ours_is_left_aside_and_named(tmp_path):
    folder = write_folder(tmp_path / "in", pool_files() | {"notes.txt": b"a", "map.png": b"\x89PNG"})
    assert "Left out: map.png, notes.txt" in run("load", folder)


def test_folders_that_cannot_be_loaded_are_named(tmp_path):
    (tmp_path / "empty").mkdir()
    (tmp_path / "file").write_text("")
    (tmp_path / "list").write_text("mat,design\n")
    (tmp_path / "odd" / "mats.csv").mkdir(parents=True)
    write_folder(tmp_path / "typo", {"mat.csv": b"mat,design\n"})
    assert refused("load", tmp_path / "none") == f"There is no folder {tmp_path / 'none'}."
    assert "file is empty" in refused("load", tmp_path / "file")
    assert "is a file, but no workbook" in refused("load", tmp_path / "list")
    assert "None of the files is here" in refused("load", tmp_path / "empty")
    assert "Unknown file name: mat.csv" in refused("load", tmp_path / "typo")
    assert "mats.csv cannot be read" in refused("load", tmp_path / "odd")


def test_export_writes_what_load_reads(tmp_path):
    run("load", write_folder(tmp_path / "in", pool_files()))
    assert "mats.csv: 2 rows" in run("export", tmp_path / "out")
    assert "Nothing new" in run("load", tmp_path / "out")
    assert Mat.objects.count() == 2


def test_export_writes_one_workbook_where_a_file_of_that_kind_is_named(tmp_path):
    run("load", write_folder(tmp_path / "in", pool_files()))
    path = tmp_path / "pool.xlsx"
    assert "mats.csv: 2 rows" in run("export", path)
    tables = own_tables(read_workbook(path.name, path.read_bytes()))
    assert tables["mats.csv"].cells["mat"].tolist() == ["M-1", "M-2"]
    assert refused("export", path) == f"{path} is there already. Name a new file, so that none is lost."
    assert "Nothing new" in run("load", path)


def test_a_workbook_is_loaded_into_an_empty_pool(tmp_path):
    """Its lines are the rows of the sheet, and a cell that cannot be read is refused by them."""
    book = openpyxl.Workbook()
    book.active.title = "depots"
    for row in (["depot"], ["Quay Street"], [], ["Hangar 2"]):
        book.active.append(row)
    mats = book.create_sheet("mats")
    mats.append(["mat", "design"])
    mats.append(["M-1", "nine"])
    book.save(tmp_path / "pool.xlsx")
    assert "mats.csv, line 2, design: “nine”" in refused("load", tmp_path / "pool.xlsx")
    del book["mats"]
    book.save(tmp_path / "depots.xlsx")
    assert "depots.csv: 2 rows, 2 stored" in run("load", tmp_path / "depots.xlsx")
    assert list(Load.objects.get().files) == ["depots.csv"]


def test_export_over_a_file_is_refused(tmp_path):
    (tmp_path / "file").write_text("")
    assert "cannot be written" in refused("export", tmp_path / "file")


@pytest.mark.process
def test_a_refusal_ends_the_process_with_an_error_table_on_stderr(folder, tmp_path):
    environment = os.environ | {"HALFPOWER_DATA": str(folder), "PYTHONPATH": str(ROOT)}
    environment |= {"DJANGO_SETTINGS_MODULE": "inspections.project.settings"}
    environment.pop("DATABASE_URL", None)
    files = write_folder(tmp_path / "in", pool_files(mats="mat,design\nM-1,nine\n"))
    command = [sys.executable, "-m", "django", "load", files]
    ended = subprocess.run(command, env=environment, capture_output=True, text=True)
    assert ended.returncode != 0
    assert "mats.csv, line 2, design: “nine”; expected: a design of mat_designs.csv" in ended.stderr
    assert "Traceback" not in ended.stderr


UNUSUAL = {"segments": "segment,cable_type,length_m\nC-1,thin,125\nC-2,thin,1.1\nC-3,thin,0.6\n"}


def test_unusual_values_are_refused_with_how_to_say_that_they_are_meant(tmp_path):
    folder = write_folder(tmp_path / "in", pool_files(**UNUSUAL))
    before = row_counts()
    lines = refused("load", folder).splitlines()
    assert lines[1].startswith(
        "segments.csv, line 2, length_m: “125.0”; expected: A cable length is mostly 0.05 to 20 m."
    )
    assert lines[2:] == [
        "If the unusual values are meant, load with --confirm.",
        "1 unusual value: nothing was stored.",
    ]
    assert refused("load", folder, "--check").splitlines() == lines
    assert row_counts() == before


def test_confirmed_unusual_values_are_stored_and_noted(tmp_path):
    folder = write_folder(tmp_path / "in", pool_files(**UNUSUAL))
    assert "Note: segments.csv line 2: “125.0”." in run("load", folder, "--check", "--confirm")
    assert run("load", folder, "--confirm").endswith("Stored.\n")
    assert "Nothing new: every row was stored already." in run("load", folder)


def test_errors_and_unusual_values_are_told_together(tmp_path):
    folder = write_folder(tmp_path / "in", pool_files(mats="mat,design\nM-1,nine\nM-2,four\n", **UNUSUAL))
    assert refused("load", folder).endswith("1 error, 1 unusual value: nothing was stored.")
    assert refused("load", folder, "--confirm").endswith("1 error: nothing was stored.")


def test_the_case_pool_needs_no_confirming(tmp_path):
    assert run("load", ROOT / "tests/data/pool").endswith("Stored.\n")


def test_fill_fills_what_is_empty_and_refuses_what_has_another_value(tmp_path):
    run("load", write_folder(tmp_path / "in", pool_files()))
    more = write_folder(tmp_path / "more", {"mats.csv": b"mat,design,owner\nM-1,four,\nM-2,four,the club\n"})
    assert "mats.csv, line 2, owner" in refused("load", more)
    assert "mats.csv: 2 rows, 0 new, 2 stored before, 1 of them filled" in run("load", more, "--fill", "--check")
    assert "Stored." in run("load", more, "--fill")
    assert dict(Mat.objects.values_list("number", "owner")) == {"M-1": "pool", "M-2": "the club"}
    assert "Nothing new" in run("load", more, "--fill")
    other = write_folder(tmp_path / "other", {"mats.csv": b"mat,design,owner\nM-2,four,the pool\n"})
    assert "“the pool” for M-2; expected: “the club”, as stored" in refused("load", other, "--fill")
