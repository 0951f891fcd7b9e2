"""What is broken or made to harm is refused in a sentence, or read for what it shows; nothing else happens."""

import random
import subprocess
import sys
import zipfile

import hostile_workbooks as hostile
import pytest
from kept_workbooks import MAKERS, kept

from inspections.workbooks.reading import read_workbook
from inspections.workbooks.sheet import CellKind, WorkbookRefused

# under the form of a day, far from all others
EMPTY_DAY = b'<row r="50"><c r="D50" s="1"><v></v></c></row>'


def refusal(content, name="list.xlsx"):
    with pytest.raises(WorkbookRefused) as refused:
        read_workbook(name, content)
    return str(refused.value)


def column(content, name="list.xlsx", place=0):
    """(text, kind) down the first column of the first sheet."""
    sheet = read_workbook(name, content).sheets[0]
    return list(zip(sheet.texts[:, place].tolist(), map(CellKind, sheet.kinds[:, place].tolist()), strict=True))


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (hostile.zip_bomb, "larger than 256 MB when unpacked"),
        (hostile.long_cell, "cell B10 of the sheet “Sheet” holds 10,000,000 characters"),
        (hostile.bomb_of_shared_text, "more than 100,000,000 characters of text"),
        (hostile.million_columns_of_text, "the sheet “list” reaches to cell BDWGN1. At most 5,000 columns"),
        (hostile.million_laughs, "is damaged"),
        (hostile.entity_of_a_file, "is damaged"),
        (hostile.macros_alone, "holds no sheet with cells, only macros or charts"),
        (lambda: hostile.repeats(1_000_000, 1_000), "reaches to cell ALL1000000"),
        (lambda: hostile.repeats(1, 16_384), "At most 5,000 columns"),
        (lambda: hostile.repeats("9" * 5_000, 1), "is damaged"),
    ],
)
def test_more_than_is_read_is_refused_before_there_is_room_made_for_it(content, said):
    content = content()
    assert len(content) < 6_000_000
    assert said in refusal(content)


@pytest.mark.parametrize("what", hostile.far_cells())
def test_a_cell_that_is_far_off_or_none_is_refused(what):
    """Its reader stops the whole process instead: what `test_the_reader_alone_would_stop_the_process` makes sure of."""
    said = refusal(hostile.with_cells(hostile.far_cells()[what]))
    assert ("reaches to cell XFD1048576" in said) if what == "the last cell" else ("is damaged" in said)


@pytest.mark.process
def test_the_reader_alone_would_stop_the_process(tmp_path):
    """Else the look at the XML before it would guard against nothing."""
    (tmp_path / "far.xlsx").write_bytes(hostile.with_cells(hostile.far_cells()["a row of a billion"]))
    code = (
        "import resource, sys; from python_calamine import CalamineWorkbook;"
        "resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30));"
        "CalamineWorkbook.from_path(sys.argv[1]).get_sheet_by_index(0)"
    )
    command = [sys.executable, "-c", code, str(tmp_path / "far.xlsx")]
    assert subprocess.run(command, capture_output=True).returncode < 0


def test_a_cell_that_is_only_coloured_far_below_is_no_cell():
    content = hostile.with_cells(b'<row r="1048576"><c r="XFD1048576" s="0"/></row>')
    assert read_workbook("list.xlsx", content).sheets[0].texts.shape == (2, 2)


def test_a_cell_with_a_form_and_nothing_in_it_is_empty():
    content = hostile.with_parts(
        hostile.days_before_all_days(),
        {"sheet1.xml": lambda part: part.replace(b"</sheetData>", EMPTY_DAY + b"</sheetData>")},
    )
    assert read_workbook("list.xlsx", content).sheets[0].texts.shape == (6, 1)


def test_numbers_that_are_no_days_are_errors():
    unshown = ("#####", CellKind.ERROR)
    assert column(hostile.days_before_all_days()) == [unshown] * 5 + [("2023-03-15", CellKind.DAY)]
    older = column(hostile.days_before_all_days_of_an_older_kind(), "list.xls")
    assert older == [unshown] * 5 + [("2023-03-15", CellKind.DAY)]


def test_links_and_names_are_not_followed_and_a_formula_without_a_value_is_an_error():
    not_calculated = ("not calculated", CellKind.ERROR)
    assert column(hostile.links_and_circles())[2:] == [not_calculated] * 2


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty"),
        (b"\xef\xbb\xbf \r\n", "is empty"),
        (b"<html><table><tr><td>Mat</td></tr></table>", "is a web page or another marked-up text"),
        (b'<?xml version="1.0"?><Workbook xmlns="urn:schemas-microsoft-com:office:spreadsheet"/>', "marked-up text"),
        (b"%PDF-1.7\n", "is a PDF, which keeps no cells"),
        (b"\x89PNG\r\n\x1a\n\0\0", "holds binary content"),
        (b'a,b\n"c,d\n', "cannot be read at line 2"),
        (hostile.compound("EncryptionInfo", "EncryptedPackage"), "is protected by a password"),
        (hostile.compound("WordDocument"), "is a text document"),
        (hostile.compound("Workbook"), "is damaged"),
        (hostile.plain_xlsx()[:900], "is damaged"),
        (b"PK\x05\x06" + bytes(18), "is a zip without a workbook"),
    ],
)
def test_what_is_no_workbook_is_named_as_what_it_is(content, said):
    assert said in refusal(content)


def test_a_password_is_named_whatever_the_kind():
    locked = hostile.repeats(1, 1)
    manifest = b"<manifest:file-entry><manifest:encryption-data/></manifest:file-entry>"
    locked = hostile.with_parts(locked, {"manifest.xml": manifest, "content.xml": b"\x93\x11\x02"})
    assert "is protected by a password" in refusal(locked)
    assert "is protected by a password" in refusal(hostile.locked_xls())
    flagged = bytearray(hostile.plain_xlsx())
    place = flagged.index(b"PK\x01\x02")
    while place >= 0:
        flagged[place + 8] |= 1
        place = flagged.find(b"PK\x01\x02", place + 4)
    assert "is protected by a password" in refusal(bytes(flagged))


@pytest.mark.parametrize("part", ["workbook.xml", "sheet1.xml", "workbook.xml.rels"])
@pytest.mark.parametrize("content", [None, b"", b"<a><b></a>"])
def test_a_workbook_without_one_of_its_parts_is_damaged(part, content):
    said = refusal(hostile.with_parts(hostile.plain_xlsx(), {part: content}))
    assert "is damaged" in said or "no workbook but another document" in said


def test_a_part_that_comes_twice_is_not_read_once_of_each():
    stream = hostile.io.BytesIO(hostile.plain_xlsx())
    with zipfile.ZipFile(stream, "a") as archive, pytest.warns(UserWarning, match="Duplicate name"):
        archive.writestr("xl/worksheets/sheet1.xml", b"<worksheet><sheetData/></worksheet>")
    assert "is damaged" in refusal(stream.getvalue())


@pytest.mark.parametrize("file", [name for name, _ in MAKERS if not name.endswith((".csv", ".txt"))])
def test_damage_anywhere_is_refused_or_read(file):
    """A few bytes are changed, in the zip or in a part of it: no other error, and nothing that takes long."""
    content, chance = kept(file).content, random.Random(file)
    for attempt in range(12):
        damaged = bytearray(content)
        if content.startswith(b"PK") and attempt % 2:
            damaged = bytearray(hostile.with_parts(content, {".xml": lambda part: changed(part, chance)}))
        else:
            damaged[:] = changed(content, chance)
        try:
            read_workbook(file, bytes(damaged))
        except WorkbookRefused as refused:
            assert file in str(refused)


def changed(content, chance):
    content = bytearray(content)
    for _ in range(chance.randint(1, 4) if content else 0):
        content[chance.randrange(len(content))] = chance.choice(b'\0\xff<>&"0A9')
    return bytes(content)
