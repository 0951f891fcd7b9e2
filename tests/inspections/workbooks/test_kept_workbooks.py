"""Each list that people keep shows what its writer meant to be seen."""

import pytest
from kept_cells import as_pair
from kept_workbooks import MAKERS, kept

from inspections.workbooks.reading import read_workbook
from inspections.workbooks.sheet import CellKind


def shown(sheet):
    """Rows of (text, kind)."""
    pairs = zip(sheet.texts.tolist(), sheet.kinds.tolist(), strict=True)
    return [[(text, CellKind(kind)) for text, kind in zip(*row, strict=True)] for row in pairs]


@pytest.mark.parametrize("file", [name for name, _ in MAKERS])
def test_a_kept_list_shows_what_its_writer_saw(file):
    case = kept(file)
    book = read_workbook(case.file, case.content)
    assert {sheet.name: shown(sheet) for sheet in book.sheets} == {
        name: [[as_pair(cell) for cell in row] for row in rows] for name, rows in case.sheets.items()
    }
    assert tuple(sheet.name for sheet in book.sheets if sheet.hidden) == case.hidden
    assert {sheet.name: sheet.merged for sheet in book.sheets if sheet.merged} == case.merged


def test_the_bytes_say_what_a_file_is_and_not_its_name():
    for file in ("events.xlsx", "mats of 2009.xls", "cables.ods", "semicolons.csv"):
        case = kept(file)
        named_wrongly = read_workbook("list.dat", case.content)
        rightly = read_workbook(case.file, case.content)
        assert [shown(sheet) for sheet in named_wrongly.sheets] == [shown(sheet) for sheet in rightly.sheets]
        assert named_wrongly.sha256 == rightly.sha256
