"""Workbooks by XlsxWriter."""

import datetime
import io
import zipfile

import xlsxwriter
from kept_cells import clock, day, month, number


def _written(fill, **options):
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, options) as book:
        fill(book)
    return stream.getvalue()


def _table(book, name, rows, formats):
    """Rows into a new sheet, each column under the number format at its place."""
    sheet, made = book.add_worksheet(name), [book.add_format({"num_format": each}) for each in formats]
    for row, cells in enumerate(rows):
        for column, value in enumerate(cells):
            if value is not None:
                sheet.write(row, column, value, made[column])
    return sheet


def readings_long():
    """Mat, position, day and dB, each under a format that shows something else than is kept."""
    rows = [
        ("Mat", "Pos", "Day", "dB"),
        (1, 1, datetime.date(2024, 5, 3), 3.2461),
        (1, 2, datetime.date(2024, 5, 3), 0.55),
        (23, 1, datetime.date(2026, 12, 31), 1234.5),
    ]
    formats = ('"M-"000', "General", "[$-407]d. mmmm yyyy;@", '#,##0.0" dB"')
    return (
        _written(lambda book: _table(book, "Readings", rows, formats)),
        {
            "Readings": [
                ["Mat", "Pos", "Day", "dB"],
                ["M-001", number("1"), day("2024-05-03"), number("3.2461")],
                ["M-001", number("2"), day("2024-05-03"), number("0.55")],
                ["M-023", number("1"), day("2026-12-31"), number("1234.5")],
            ]
        },
    )


def counted_from_1904():
    """Days counted as some older computers did."""
    rows = [("Event", "Day", "Month"), ("Towpath run", datetime.date(2024, 2, 29), datetime.date(2024, 2, 1))]
    formats = ("General", "dd/mm/yyyy", "mmmm yyyy")
    return (
        _written(lambda book: _table(book, "Events", rows, formats), date_1904=True),
        {"Events": [["Event", "Day", "Month"], ["Towpath run", day("2024-02-29"), month("February 2024")]]},
    )


def calendar_of_days():
    """Days across, of which only the number shows; the event's name over as many of them as it took."""

    def fill(book):
        sheet = book.add_worksheet("May")
        only_day = book.add_format({"num_format": "d"})
        for column in range(1, 5):
            sheet.write_datetime(0, column, datetime.datetime(2025, 5, column), only_day)
        sheet.write_string(1, 0, "M-001")
        sheet.merge_range("B2:D2", "Regatta week")
        sheet.write_string(2, 0, "M-002")
        sheet.write_string(2, 4, "x")

    heads = [day(f"2025-05-0{number}") for number in (1, 2, 3, 4)]
    rows = [["", *heads], ["M-001", "Regatta week", "", "", ""], ["M-002", "", "", "", "x"]]
    return _written(fill), {"May": rows}, (), {"May": ((1, 1, 1, 3),)}


def dressed_up():
    """Rich text, a link, a comment, a filter, colours, a picture of nothing: a cell counts by its text alone."""

    def fill(book):
        bold = book.add_format({"bold": True})
        sheet = book.add_worksheet("Mats & more")
        sheet.write_row(0, 0, ["Mat", "Depot", "Home at", "Hours", "Sum"])
        sheet.write_rich_string(1, 0, "M-", bold, "007")
        sheet.write_url(1, 1, "https://example.invalid/", string="Hangar 2")
        sheet.write_comment(1, 1, "behind the door")
        sheet.write_datetime(1, 2, datetime.time(14, 30), book.add_format({"num_format": "hh:mm"}))
        sheet.write_number(1, 3, 1.5, book.add_format({"num_format": "[h]:mm"}))
        sheet.write_formula(1, 4, "=1+1", None, 2)
        sheet.write_string(2, 0, "two\nlines")
        sheet.write_string(3, 0, "   ")
        sheet.autofilter(0, 0, 2, 4)
        sheet.conditional_format(0, 0, 9, 9, {"type": "no_blanks", "format": bold})

    return (
        _written(fill),
        {
            "Mats & more": [
                ["Mat", "Depot", "Home at", "Hours", "Sum"],
                ["M-007", "Hangar 2", clock("14:30"), clock("36:00"), number("2")],
                ["two\nlines", "", "", "", ""],
            ]
        },
    )


def with_macros():
    """An .xlsm: what its macros would do is nobody's business here."""
    content, sheets = _written(lambda book: _table(book, "Mats", [("Mat",), ("M-001",)], ("@",))), [["Mat"], ["M-001"]]
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as source, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            part = source.read(name)
            if name == "[Content_Types].xml":
                part = part.replace(b"spreadsheetml.sheet.main", b"ms-excel.sheet.macroEnabled.main")
            target.writestr(name, part)
        target.writestr("xl/vbaProject.bin", b"\xd0\xcf\x11\xe0 Sub Auto_Open()")
    return stream.getvalue(), {"Mats": sheets}


MAKERS = [
    ("readings.xlsx", readings_long),
    ("of 1904.xlsx", counted_from_1904),
    ("days.xlsx", calendar_of_days),
    ("dressed up.xlsx", dressed_up),
    ("with macros.xlsm", with_macros),
]
