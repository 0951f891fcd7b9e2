"""What goes out in a workbook comes back, and nothing stays behind where it fails."""

import datetime
import io
import tempfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from sizes import examples

from inspections.workbooks.reading import read_workbook
from inspections.workbooks.writing import CellNotWritten, Holds, OutColumn, OutSheet, write_workbook

letters = some.characters(codec="utf-8", exclude_characters="\r", exclude_categories=("Cs", "Cn"))
texts = some.text(letters, max_size=30).filter(str.strip)
floats = some.floats(allow_nan=False, allow_infinity=False, min_value=-1e14, max_value=1e14)
days = some.dates(datetime.date(1900, 1, 1), datetime.date(2199, 12, 31))


def written(rows, columns=3):
    stream = io.BytesIO()
    heads = tuple(OutColumn(f"column {number}") for number in range(columns))
    write_workbook(stream, [OutSheet("Sheet", heads, rows)])
    return stream.getvalue()


@given(some.lists(some.tuples(texts, floats, days), min_size=1, max_size=4))
@settings(max_examples=examples(25))
def test_texts_numbers_and_days_come_back_to_the_last_digit(rows):
    """Controls, formulas, marked-up text and all."""
    found = read_workbook("out.xlsx", written(rows)).sheets[0].texts[1:].tolist()
    assert [(text, float(number), day) for text, number, day in found] == [
        (text, number, day.isoformat()) for text, number, day in rows
    ]


def test_nothing_stays_behind_a_workbook_that_cannot_be_written(tmp_path, monkeypatch):
    folder = tmp_path / "temporary"
    folder.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(folder))
    with pytest.raises(CellNotWritten, match="Sheet, cell A3: a text of 32,768 characters"):
        written([("x",), ("x" * 32_768,)])

    class Full(io.BytesIO):
        def write(self, data):
            raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="No space left"):
        write_workbook(Full(), [OutSheet("Sheet", (OutColumn("Mat"),), [("M-1",)])])
    assert list(folder.iterdir()) == []


def test_a_column_offers_its_words_and_keeps_codes_as_texts():
    import openpyxl

    stream = io.BytesIO()
    columns = (OutColumn("state", words=("went", "planned"), needed=True), OutColumn("day", Holds.DAY))
    write_workbook(stream, [OutSheet("usage", columns, [])])
    sheet = openpyxl.load_workbook(stream)["usage"]
    (offer,) = sheet.data_validations.dataValidation
    assert (str(offer.sqref), offer.formula1) == ("A2:A1048576", '"went,planned"')
    assert [sheet["A1"].font.b, sheet["B1"].font.b] == [True, False]
    assert sheet.column_dimensions["B"].width > 0
