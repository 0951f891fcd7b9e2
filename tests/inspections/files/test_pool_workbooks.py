"""The pool as one workbook, out and in again, and the workbook to type a pool into."""

import io
from datetime import date

import openpyxl
import pytest
from django.core.exceptions import ValidationError
from django.db import transaction
from pool_files import FULL, pool_files, row_counts

from fleet.intake import write_file
from fleet.intake.csv_files import read_csv
from fleet.intake.findings import Findings
from fleet.models import CableSegment, Event, Mat, MatDesign
from inspections.files.column_words import column_words
from inspections.files.examples import EXAMPLES
from inspections.files.loading import check_pool_files, load_pool_files
from inspections.files.own_workbooks import own_tables, sheet_name
from inspections.files.pool_workbooks import export_workbook, template_workbook, workbook_of_the_pool
from inspections.files.sets import LAYOUTS
from inspections.workbooks.reading import read_workbook

pytestmark = pytest.mark.django_db
ON = date(2026, 9, 30)


def as_csv(rows_by_file):
    return {
        file: "\n".join(",".join(f'"{cell}"' for cell in row) for row in rows).encode()
        for file, rows in rows_by_file.items()
    }


def test_the_examples_of_the_template_are_a_sound_pool_that_leaves_no_file_out():
    assert set(EXAMPLES) == {layout.file for layout in LAYOUTS}
    rows = {file: [list(example), list(example.values())] for file, example in EXAMPLES.items()}
    files = check_pool_files(as_csv(rows), on=ON)
    assert [(each.file, each.column, each.found, each.expected) for each in files.errors.in_order()] == []
    assert [(each.file, each.column, each.found) for each in files.unusual.in_order()] == []


def whole(stream):
    with stream:
        return stream.read()


def values(tables):
    """{file: rows of values} of raw tables, as the pool would keep them."""
    layouts = {layout.file: layout for layout in LAYOUTS}
    return {
        file: [
            {
                name: layouts[file].column(name).read(text, False, ON)
                for name, text in zip(table.cells, row, strict=True)
            }
            for row in zip(*table.cells.values(), strict=True)
        ]
        for file, table in tables.items()
    }


def csv_tables(contents):
    layouts, errors = {layout.file: layout for layout in LAYOUTS}, Findings()
    tables = {file: read_csv(layouts[file], content, errors) for file, content in contents.items()}
    assert not errors
    return tables


def exported():
    """{file: bytes} of the pool as CSV files."""
    streams = {layout.file: io.StringIO(newline="") for layout in LAYOUTS}
    for layout in LAYOUTS:
        write_file(layout, streams[layout.file])
    return {file: stream.getvalue().encode() for file, stream in streams.items()}


HARD_TEXTS = (
    "=1+1",
    "'=x",
    "+4",
    "-plug",
    "@home",
    "'",
    "''",
    "<r><t>x</t></r>",
    "<r>&</r>",
    "_x0041_",
    "007",
    "1e5",
)


def test_the_pool_as_a_workbook_is_read_again_as_the_same_tables():
    load_pool_files(pool_files(**FULL), by=None, on=ON)
    for number, text in enumerate(HARD_TEXTS):
        Mat.objects.filter(number="M-1").update(owner=text)
        Event.objects.filter(code="E-1").update(name=text, place=f" {text} \u00e4 \U0001f9f5")
        CableSegment.objects.filter(serial="C-1").update(as_new_loss_db=0.1 + number / 3)
        book = read_workbook("pool.xlsx", whole(workbook_of_the_pool()))
        tables = own_tables(book)
        assert values(tables) == values(csv_tables(exported()))
        assert [table.sha256 for table in tables.values()] == [book.sha256] * len(LAYOUTS)


def test_the_workbook_loaded_into_an_empty_pool_gives_the_same_files_out_again():
    with transaction.atomic():
        load_pool_files(pool_files(**FULL), by=None, on=ON)
        first, tables = exported(), own_tables(read_workbook("pool.xlsx", whole(workbook_of_the_pool())))
        transaction.set_rollback(True)
    _, load = load_pool_files(tables, by=None, on=ON)
    assert (bool(load), exported()) == (True, first)
    before = row_counts()
    _, again = load_pool_files(tables, by=None, on=ON)
    assert (again, row_counts()) == (None, before)


def test_two_workbooks_of_a_pool_are_the_same_bytes():
    load_pool_files(pool_files(), by=None, on=ON)
    assert whole(workbook_of_the_pool()) == whole(workbook_of_the_pool())


def test_the_workbook_holds_numbers_days_and_texts_as_another_program_reads_them():
    load_pool_files(pool_files(), by=None, on=ON)
    Mat.objects.filter(number="M-1").update(owner="=HYPERLINK(1)")
    book = openpyxl.load_workbook(io.BytesIO(whole(workbook_of_the_pool())))
    assert book.sheetnames == [sheet_name(layout) for layout in LAYOUTS]
    owner, acquired = book["mats"]["D2"], book["mats"]["E2"]
    assert (owner.value, owner.data_type, owner.number_format) == ("=HYPERLINK(1)", "s", "@")
    assert (acquired.value.date(), acquired.is_date, acquired.number_format) == (date(2024, 1, 5), True, "yyyy-mm-dd")
    losses = [book["measurements"].cell(row, 4).value for row in (2, 3)]
    assert losses == [0.71, "no signal"]


def test_a_template_that_nobody_filled_holds_no_row_and_each_column_is_explained():
    content = whole(template_workbook())
    tables = own_tables(read_workbook("template.xlsx", content))
    assert {file: len(table) for file, table in tables.items()} == {layout.file: 0 for layout in LAYOUTS}
    book = openpyxl.load_workbook(io.BytesIO(content))
    explained = {tuple(row[:2]): row[4] for row in book["Explained"].iter_rows(values_only=True)}
    for layout in LAYOUTS:
        assert [cell.value for cell in book[sheet_name(layout)][1]] == layout.names
        assert explained[sheet_name(layout), None].startswith("One row ")
        for column in layout.columns:
            assert explained[sheet_name(layout), column.name] == column_words(column)


def filled_template(**changes):
    """The template with other values in cells, `mats_A3="M-1"`."""
    book = openpyxl.load_workbook(io.BytesIO(whole(template_workbook())))
    for place, value in changes.items():
        sheet, _, cell = place.rpartition("_")
        book[sheet][cell] = value
    stream = io.BytesIO()
    book.save(stream)
    return read_workbook("template.xlsx", stream.getvalue())


def test_what_is_typed_below_or_over_the_example_is_a_row_of_its_own_line():
    table = own_tables(filled_template(mats_A3="004711", mats_B3="EXAMPLE-4M", mats_E3=date(2024, 5, 3)))["mats.csv"]
    assert table.lines.tolist() == [3]
    assert [table.cells[name][0] for name in ("mat", "design", "acquired_on", "owner")] == [
        "004711",
        "EXAMPLE-4M",
        "2024-05-03",
        "",
    ]
    changed = own_tables(filled_template(mats_A2="M-1"))["mats.csv"]
    assert (changed.lines.tolist(), changed.cells["mat"].tolist()) == ([2], ["M-1"])


def test_a_workbook_with_a_sheet_or_column_of_its_own_is_asked_about_instead():
    assert own_tables(filled_template(mats_I1="colour")) is None
    book = openpyxl.load_workbook(io.BytesIO(whole(template_workbook())))
    book.create_sheet("Shopping")["A1"] = "tape"
    stream = io.BytesIO()
    book.save(stream)
    assert own_tables(read_workbook("template.xlsx", stream.getvalue())) is None


def test_an_error_value_in_a_text_is_refused_with_its_place():
    with pytest.raises(ValidationError, match="mats, D3: not calculated"):
        own_tables(filled_template(mats_D3="=1/0"))


def test_a_workbook_is_written_whole_or_not_at_all(tmp_path):
    load_pool_files(pool_files(), by=None, on=ON)
    path = tmp_path / "pool.xlsx"
    assert export_workbook(path)["mats.csv"] == 2
    before = path.read_bytes()
    with pytest.raises(ValidationError, match="is there already"):
        export_workbook(path)
    MatDesign.objects.update(steps="x" * 40_000)
    with pytest.raises(ValidationError, match=r"40,000 characters.*CSV files instead"):
        export_workbook(tmp_path / "other.xlsx")
    assert ([each.name for each in tmp_path.glob("*pool*")], path.read_bytes()) == (["pool.xlsx"], before)
    assert list(tmp_path.glob("*other*")) == []
