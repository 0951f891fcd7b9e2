"""Random valid sheets, in every style of days and numbers, are read back as what was written."""

import calendar
import datetime
import io
import re

import openpyxl
import xlsxwriter
import xlwt
from hypothesis import given, settings
from hypothesis import strategies as some
from kept_ods import document, saved, table
from odfdo import Cell
from sizes import examples

from inspections.workbooks.reading import read_workbook
from inspections.workbooks.sheet import CellKind

# what of a day each format lets be seen, in the words of its own
FULL = (
    *("yyyy-mm-dd", "dd.mm.yyyy", "m/d/yy", "d mmm yy", "[$-407]dddd, d. mmmm yyyy;@", "dd\\-mmm", '"on "d.m.yy'),
    *("d", "ddd"),
)
MONTHLY = ("mmm yy", "mmmm yyyy", "mm/yyyy", "mmm", "[$-409]mmm\\-yy;@", "yy\\.mm")
YEARLY = ("yyyy", "yy")
PLAIN = (
    *("General", "0.00", "#,##0.0", '0.0" dB"', "0.00E+00", "0%", "#,##0.00 [$€-407]", "_-* #,##0.00_-", "@"),
    "0;[Red]-0",
)
CODES = {"000000": "{:06d}", '"M-"000': "M-{:03d}", "0000\\-000": None, '"K"0': "K{:d}", "00": "{:02d}"}

days = some.dates(datetime.date(1950, 1, 1), datetime.date(2199, 12, 31))
numbers = some.one_of(some.integers(-(10**9), 10**9), some.decimals(-1_000, 1_000, places=4).map(float))
letters = some.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Cn", "Co"))
texts = some.text(letters, max_size=12).filter(lambda text: text.strip() and text != "\ufeff")


def plain_number(value):
    return str(int(value)) if value == int(value) else repr(float(value))


def _days(formats, shown):
    return some.tuples(days, some.sampled_from(formats)).map(lambda pair: (*pair, shown(pair[0])))


@some.composite
def _codes(draw):
    code, written = draw(some.sampled_from(list(CODES.items())))
    value = draw(some.integers(0, 999_999))
    shown = written.format(value) if written else re.sub(r"(\d+)(\d{3})", r"\1-\2", f"{value:07d}")
    return value, code, (shown, CellKind.TEXT)


@some.composite
def _times_of_days(draw):
    """Whole minutes: seconds that are no part of the format are not kept apart from rounding."""
    clock = datetime.time(draw(some.integers(0, 23)), draw(some.integers(0, 59)))
    moment = datetime.datetime.combine(draw(days), clock)
    text = moment.strftime("%Y-%m-%d %H:%M") if moment.time() != datetime.time() else f"{moment.date()}"
    code, text = draw(some.sampled_from([("dd.mm.yyyy hh:mm", text), ("m/d/yy", f"{moment.date()}")]))
    return moment, code, (text, CellKind.DAY)


cells = some.one_of(
    some.none(),
    texts.map(lambda text: (text, "@", (text, CellKind.TEXT))),
    some.booleans().map(lambda value: (value, "General", ("yes" if value else "no", CellKind.YES_NO))),
    some.tuples(numbers, some.sampled_from(PLAIN)).map(lambda p: (*p, (plain_number(p[0]), CellKind.NUMBER))),
    _days(FULL, lambda day: (day.isoformat(), CellKind.DAY)),
    _days(MONTHLY, lambda day: (f"{calendar.month_name[day.month]} {day.year}", CellKind.MONTH)),
    _days(YEARLY, lambda day: (str(day.year), CellKind.TEXT)),
    _codes(),
    _times_of_days(),
)
sheets = some.lists(some.lists(cells, min_size=1, max_size=5), min_size=1, max_size=5)


def by_openpyxl(rows):
    book = openpyxl.Workbook()
    for row, each in enumerate(rows, 1):
        for column, cell in enumerate(each, 1):
            if cell:
                made = book.active.cell(row, column)
                made.value, made.number_format = cell[:2]
                if isinstance(cell[0], str):
                    made.data_type = "s"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def by_xlsxwriter(rows, **options):
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, options) as book:
        sheet = book.add_worksheet()
        for row, each in enumerate(rows):
            for column, cell in enumerate(each):
                if cell:
                    write = {str: sheet.write_string, bool: sheet.write_boolean}.get(type(cell[0]), sheet.write)
                    write(row, column, cell[0], book.add_format({"num_format": cell[1]}))
    return stream.getvalue()


def since_1904(rows):
    return by_xlsxwriter(rows, date_1904=True)


def by_xlwt(rows):
    book = xlwt.Workbook()
    sheet = book.add_sheet("Sheet")
    for row, each in enumerate(rows):
        for column, cell in enumerate(each):
            if cell:
                style = xlwt.XFStyle()
                style.num_format_str = cell[1]
                sheet.write(row, column, cell[0], style)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def shown(content):
    """{(row, column): (text, kind)} of what is not empty in the one sheet."""
    (sheet,) = read_workbook("any", content).sheets
    assert sheet.texts.shape == sheet.kinds.shape
    filled = zip(*sheet.kinds.nonzero(), strict=True)
    return {(int(r), int(c)): (sheet.texts[r, c], CellKind(sheet.kinds[r, c])) for r, c in filled}


def meant(rows):
    return {(r, c): cell[2] for r, row in enumerate(rows) for c, cell in enumerate(row) if cell}


@given(sheets)
@settings(max_examples=examples(16))
def test_any_sheet_shows_what_was_written_whoever_wrote_it(rows):
    for write in (by_openpyxl, by_xlsxwriter, since_1904, by_xlwt):
        assert shown(write(rows)) == meant(rows), write.__name__


values = some.one_of(texts, numbers, days, some.booleans())


@given(some.lists(some.lists(values, min_size=1, max_size=4), min_size=1, max_size=4))
@settings(max_examples=examples(20))
def test_any_open_document_shows_what_was_written(rows):
    made = [[Cell(value) for value in row] for row in rows]
    assert shown(saved(document(table("Sheet", made)))) == {
        (r, c): _as_shown(value) for r, row in enumerate(rows) for c, value in enumerate(row)
    }


def _as_shown(value):
    if isinstance(value, str):
        return value, CellKind.TEXT
    if isinstance(value, bool):
        return "yes" if value else "no", CellKind.YES_NO
    if isinstance(value, datetime.date):
        return value.isoformat(), CellKind.DAY
    return plain_number(value), CellKind.NUMBER
