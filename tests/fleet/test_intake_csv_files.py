"""Bytes to rows. The rules named are those of RFC 4180 (October 2005), section 2."""

import codecs

import pytest

from fleet.intake import Findings
from fleet.intake.csv_files import read_csv
from fleet.intake.files import EVENTS, MATS

HEADER = "mat,design,owner"


def read(content, layout=MATS):
    errors = Findings()
    table = read_csv(layout, content if isinstance(content, bytes) else content.encode(), errors)
    return table, errors.in_order()


def cells_of(table):
    return list(zip(*(column.tolist() for column in table.cells.values()), strict=True))


def test_lines_end_with_crlf_or_the_last_with_nothing():
    """RFC 4180 2.1 and 2.2."""
    for text in (f"{HEADER}\r\nM-1,four,a\r\n", f"{HEADER}\r\nM-1,four,a", f"{HEADER}\nM-1,four,a\n"):
        assert cells_of(read(text)[0]) == [("M-1", "four", "a")]


def test_blanks_belong_to_a_cell():
    """RFC 4180 2.4: spaces are part of a field."""
    assert cells_of(read(f"{HEADER}\nM-1,four, a \n")[0]) == [("M-1", "four", " a ")]


def test_quoted_and_bare_cells_mean_the_same():
    """RFC 4180 2.5."""
    assert cells_of(read(f'{HEADER}\n"M-1","four",a\n')[0]) == [("M-1", "four", "a")]


def test_quoted_cells_hold_commas_quotes_and_line_breaks():
    """RFC 4180 2.6 and 2.7: a double quote within is doubled."""
    table, _ = read(f'{HEADER}\r\nM-1,four,"a, ""b""\r\nc"\r\nM-2,four,d\r\n')
    assert cells_of(table) == [("M-1", "four", 'a, "b"\r\nc'), ("M-2", "four", "d")]


def test_line_of_a_row_is_the_line_it_ends_on():
    table, _ = read(f'{HEADER}\n\nM-1,four,"a\nb"\nM-2,four,c\n')
    assert table.lines.tolist() == [4, 5]


def test_a_row_with_other_cells_than_the_header_is_refused():
    """RFC 4180 2.4: each line has the same number of fields."""
    _, errors = read(f"{HEADER}\nM-1,four\nM-2,four,b,c\n")
    assert [(error.line, error.found, error.expected) for error in errors] == [
        (2, "2 cells", "3 cells, as in the header"),
        (3, "4 cells", "3 cells, as in the header"),
    ]


@pytest.mark.parametrize("text", [f'{HEADER}\nM-1,four,"a\nM-2,four,b\n', f'{HEADER}\nM-1,four,"a"b\n'])
def test_a_quote_that_is_not_closed_or_doubled_is_refused(text):
    table, errors = read(text)
    assert table is None
    assert [error.expected for error in errors] == ["each quote closed, and doubled within a cell"]


@pytest.mark.parametrize(
    "encode",
    [
        lambda text: text.encode("utf-8"),
        lambda text: codecs.BOM_UTF8 + text.encode("utf-8"),
        lambda text: codecs.BOM_UTF16_LE + text.encode("utf-16-le"),
        lambda text: codecs.BOM_UTF16_BE + text.encode("utf-16-be"),
        lambda text: text.encode("utf-16-le"),
        lambda text: text.encode("utf-16-be"),
        lambda text: text.encode("latin-1"),
    ],
    ids=["utf-8", "utf-8 with mark", "utf-16 le", "utf-16 be", "utf-16 le bare", "utf-16 be bare", "latin-1"],
)
def test_encodings_that_keepers_have_are_understood(encode):
    table, errors = read(encode(f"{HEADER}\r\nM-1,four,Öl und Größe\r\n"))
    assert errors == []
    assert cells_of(table) == [("M-1", "four", "Öl und Größe")]


def test_semicolons_are_told_by_the_header():
    table, _ = read("mat;design;owner\nM-1;four;a, b\n")
    assert cells_of(table) == [("M-1", "four", "a, b")]
    assert table.decimal_comma


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (b"", "an empty file"),
        (b" \r\n\r\n", "an empty file"),
        (codecs.BOM_UTF8, "an empty file"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00", "binary content"),
        (bytes(range(256)) * 4, "binary content"),
        (b"PK\x03\x04\x14\x00\x06\x00", "a zip or spreadsheet file"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "a spreadsheet file"),
        (b"%PDF-1.7\n", "a PDF"),
    ],
)
def test_what_is_no_csv_is_named(content, found):
    table, errors = read(content)
    assert table is None
    assert [(error.file, error.line, error.found) for error in errors] == [("mats.csv", 0, found)]
    assert HEADER.split(",")[0] in errors[0].expected


def test_wrong_header_names_every_column_that_is_too_many_twice_or_missing():
    _, errors = read("event,name,name,starts_on,colour\nE-1,a,a,2026-01-01,red\n", EVENTS)
    assert [(error.line, error.column, error.found) for error in errors] == [
        (1, "name", "column name 2 times"),
        (1, "colour", "column “colour”"),
        (1, "ends_on", "no such column"),
    ]


def test_a_header_of_its_own_is_no_error():
    table, errors = read(f"{HEADER}\n")
    assert (len(table), errors) == (0, [])
