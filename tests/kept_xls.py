"""Workbooks of the older kind, by xlwt."""

import datetime
import io

import xlwt
from kept_cells import clock, day, month, number, yes_no


def _saved(book):
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _table(book, name, rows, formats):
    sheet, styles = book.add_sheet(name), [xlwt.easyxf(num_format_str=each) for each in formats]
    for row, cells in enumerate(rows):
        for column, value in enumerate(cells):
            if value is not None:
                sheet.write(row, column, value, styles[column])
    return sheet


def mats_of_long_ago():
    book = xlwt.Workbook()
    rows = [
        ("Nr.", "Breite", "gekauft", "Kabel neu", "verliehen"),
        (7, 4.0, datetime.date(2009, 4, 1), datetime.date(2015, 5, 1), True),
        (11, 2.5, datetime.date(2011, 12, 31), "Frühjahr 2014", False),
    ]
    _table(book, "Matten", rows, ("000", '0.0" m"', "DD.MM.YYYY", "MMM YY", "General"))
    book.add_sheet("alt").visibility = 1
    return (
        _saved(book),
        {
            "Matten": [
                ["Nr.", "Breite", "gekauft", "Kabel neu", "verliehen"],
                ["007", number("4"), day("2009-04-01"), month("May 2015"), yes_no("yes")],
                ["011", number("2.5"), day("2011-12-31"), "Frühjahr 2014", yes_no("no")],
            ],
            "alt": [],
        },
        ("alt",),
    )


def events_of_long_ago():
    book = xlwt.Workbook()
    sheet = _table(
        book,
        "Events",
        [
            ("Day", "Start", "Hours", "Name", "Mats"),
            (datetime.date(2012, 6, 9), datetime.time(9, 30), 1.25, "Hill run", "1-4"),
            (datetime.date(2012, 6, 10), datetime.time(9, 30), 0.5, "Hill run", "all"),
        ],
        ("D-MMM", "h:mm", "[h]:mm", "General", "@"),
    )
    sheet.write_merge(4, 4, 0, 2, "no more this year")
    return (
        _saved(book),
        {
            "Events": [
                ["Day", "Start", "Hours", "Name", "Mats"],
                [day("2012-06-09"), clock("09:30"), clock("30:00"), "Hill run", "1-4"],
                [day("2012-06-10"), clock("09:30"), clock("12:00"), "Hill run", "all"],
                [""] * 5,
                ["no more this year", "", "", "", ""],
            ]
        },
        (),
        {"Events": ((4, 0, 4, 2),)},
    )


MAKERS = [("mats of 2009.xls", mats_of_long_ago), ("events of 2012.xls", events_of_long_ago)]
