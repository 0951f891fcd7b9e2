"""Workbooks by openpyxl."""

import datetime
import io

import openpyxl
from kept_cells import day, error, month, number


def _saved(book):
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _book(title):
    book = openpyxl.Workbook()
    book.active.title = title
    return book, book.active


def _put(sheet, place, value, number_format):
    sheet[place] = value
    sheet[place].number_format = number_format


def mats_with_seasons():
    """A title, an empty line, the heading in the third row, rough days as people say them, totals at the end."""
    book, sheet = _book("Mats")
    sheet["A1"] = "Fenmark Lending Pool – mats"
    for row in (
        ("Mat", "Build", "Depot", "Bought", "Cables last changed", "Remarks"),
        (1, "4m/8", "Quay Street", datetime.date(2019, 4, 1), "spring 2023", None),
        (2, "4m/8", "Quay Street", "2019", "Q3 24", "hinge stiff"),
        ("K4", "2m/4", "Upper Mill", None, "last year", "wet bag, dried 3.5.26"),
        ("Total", 3, None, None, None, None),
    ):
        sheet.append(row) if sheet.max_row > 1 else _append_at(sheet, 3, row)
    return (
        _saved(book),
        {
            "Mats": [
                ["Fenmark Lending Pool – mats", "", "", "", "", ""],
                [""] * 6,
                ["Mat", "Build", "Depot", "Bought", "Cables last changed", "Remarks"],
                [number("1"), "4m/8", "Quay Street", day("2019-04-01"), "spring 2023", ""],
                [number("2"), "4m/8", "Quay Street", "2019", "Q3 24", "hinge stiff"],
                ["K4", "2m/4", "Upper Mill", "", "last year", "wet bag, dried 3.5.26"],
                ["Total", number("3"), "", "", "", ""],
            ]
        },
    )


def _append_at(sheet, row, values):
    for column, value in enumerate(values, 1):
        sheet.cell(row, column, value)


def events_with_mats_in_one_cell():
    """One row an event, its mats in one cell; days in three ways."""
    book, sheet = _book("2025")
    for row in (
        ("Date", "Event", "Weather", "Mats"),
        (datetime.date(2025, 5, 3), "Canal bank run", "wet", "1-3, 7, K4"),
        ("10.05.2025", "Gravel ride", None, "all"),
        ("17./18.5.25", "Hill weekend", "dry", 7),
        (datetime.datetime(2025, 6, 1, 18, 30), "Evening relay", "rain", "1–3"),
    ):
        sheet.append(row)
    sheet["A2"].number_format = "ddd dd.mm."
    sheet["A5"].number_format = "dd.mm.yyyy hh:mm"
    return (
        _saved(book),
        {
            "2025": [
                ["Date", "Event", "Weather", "Mats"],
                [day("2025-05-03"), "Canal bank run", "wet", "1-3, 7, K4"],
                ["10.05.2025", "Gravel ride", "", "all"],
                ["17./18.5.25", "Hill weekend", "dry", number("7")],
                [day("2025-06-01 18:30"), "Evening relay", "rain", "1–3"],
            ]
        },
    )


def serials_filled_up():
    """Serials that are numbers, shown with zeros in front or behind letters; a length with its unit is a number."""
    book, sheet = _book("Cables")
    sheet.append(("Serial", "Mat", "Length", "Fitted"))
    for row, (serial, mat, length, fitted) in enumerate(
        [(4711, 17, 3.5, datetime.date(2024, 5, 1)), (12, 3, 2, datetime.date(2023, 11, 1))], 2
    ):
        _put(sheet, f"A{row}", serial, "000000")
        _put(sheet, f"B{row}", mat, '"M-"000')
        _put(sheet, f"C{row}", length, '0.0" m"')
        _put(sheet, f"D{row}", fitted, "mmm yy")
    return (
        _saved(book),
        {
            "Cables": [
                ["Serial", "Mat", "Length", "Fitted"],
                ["004711", "M-017", number("3.5"), month("May 2024")],
                ["000012", "M-003", number("2"), month("November 2023")],
            ]
        },
    )


def readings_under_merged_headings():
    """One column a position, under a heading over all of them."""
    book, sheet = _book("Loss")
    sheet["A1"], sheet["C1"] = "Mat", "Loss in dB, cable"
    sheet.merge_cells("A1:A2")
    sheet.merge_cells("C1:E1")
    for column, position in zip("CDE", (1, 2, 3), strict=True):
        sheet[f"{column}2"] = position
    sheet["B1"] = "Measured"
    sheet.append(("M-001", datetime.date(2025, 3, 9), 0.61, "3,2 dB", None))
    sheet.append(("M-002", datetime.date(2025, 3, 9), 0.58, 0.3, "open"))
    return (
        _saved(book),
        {
            "Loss": [
                ["Mat", "Measured", "Loss in dB, cable", "", ""],
                ["", "", number("1"), number("2"), number("3")],
                ["M-001", day("2025-03-09"), number("0.61"), "3,2 dB", ""],
                ["M-002", day("2025-03-09"), number("0.58"), number("0.3"), "open"],
            ]
        },
        (),
        {"Loss": ((0, 0, 1, 0), (0, 2, 0, 4))},
    )


def calendar_of_months():
    """Months across, as days of which only the month shows, and a mark in the cell."""
    book, sheet = _book("Use")
    for column, each in enumerate((1, 2, 3), 2):
        _put(sheet, sheet.cell(2, column).coordinate, datetime.date(2025, each, 1), "mmm")
    sheet["A2"] = "Mat"
    sheet.append(("K1", "x", None, 2))
    sheet.append(("K2", None, "✓", True))
    return (
        _saved(book),
        {
            "Use": [
                ["", "", "", ""],
                ["Mat", month("January 2025"), month("February 2025"), month("March 2025")],
                ["K1", "x", "", number("2")],
                ["K2", "", "✓", ("yes", 5)],
            ]
        },
    )


def summary_and_hidden_sheets():
    """A summary of formulas that were never calculated, error values, and a list that is put out of sight."""
    book, sheet = _book("Summary")
    sheet.append(("Mats", "=COUNTA(Old!A:A)"))
    sheet.append(("Broken", "#REF!"))
    sheet["B2"].data_type = "e"
    old = book.create_sheet("Old")
    old.append(("Mat", "Gone"))
    old.append(("M-000", datetime.date(2018, 2, 28)))
    old.sheet_state = "hidden"
    book.create_sheet("Deep").sheet_state = "veryHidden"
    return (
        _saved(book),
        {
            "Summary": [["Mats", error("not calculated")], ["Broken", error("#REF!")]],
            "Old": [["Mat", "Gone"], ["M-000", day("2018-02-28")]],
            "Deep": [],
        },
        ("Old", "Deep"),
    )


MAKERS = [
    ("mats with seasons.xlsx", mats_with_seasons),
    ("events.xlsx", events_with_mats_in_one_cell),
    ("cables.xlsx", serials_filled_up),
    ("loss by position.xlsx", readings_under_merged_headings),
    ("months.xlsx", calendar_of_months),
    ("summary.xlsx", summary_and_hidden_sheets),
]
