"""Workbooks that are broken, or made to harm whoever opens them."""

import io
import struct
import zipfile

import openpyxl
import xlsxwriter
import xlwt
from kept_ods import document, saved, table


def plain_xlsx(rows=(("Mat", "dB"), ("M-001", 0.61))):
    """A small sound one."""
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def with_parts(content, changes):
    """A package with parts changed: {end of a part's name: function of its bytes, or new bytes}; None leaves it out."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as source, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            part = source.read(name)
            for end, change in changes.items():
                if name.endswith(end):
                    part = change(part) if callable(change) else change
            if part is not None:
                target.writestr(name, part)
    return stream.getvalue()


def with_cells(cells):
    """The sound one with this XML behind its rows."""
    return with_parts(plain_xlsx(), {"sheet1.xml": lambda part: part.replace(b"</sheetData>", cells + b"</sheetData>")})


def zip_bomb():
    """Three hundred megabytes of blanks in little more than one."""
    stream = io.BytesIO(plain_xlsx())
    with (
        zipfile.ZipFile(stream, "a", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
        archive.open("xl/worksheets/sheet2.xml", "w") as part,
    ):
        for _ in range(300):
            part.write(b" " * 2**20)
    return stream.getvalue()


def bomb_of_shared_text():
    """One text of the greatest length, kept once, in ten thousand cells."""
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream) as book:
        sheet = book.add_worksheet()
        for row in range(10_000):
            sheet.write_string(row, 0, "x" * 32_767)
    return stream.getvalue()


def million_columns_of_text():
    return b",".join([b"x"] * 1_000_000)


def far_cells():
    """(what, cells): positions for which a reader makes more room than any computer has, or which no sheet has."""
    return {
        "the last cell": b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>',
        "a row of a billion": b'<row r="10"><c r="A1000000000"><v>1</v></c></row>',
        "a column of five letters": b'<row r="10"><c r="AAAAA10"><v>1</v></c></row>',
        "no cell": b'<row r="10"><c r="10"><v>1</v></c></row>',
        "a row below zero": b'<row r="-5"><c><v>1</v></c></row>',
        "a row that is a word": b'<row r="x"><c><v>1</v></c></row>',
    }


def long_cell():
    """Ten megabytes in one cell, as no program writes it."""
    return with_cells(b'<row r="10"><c r="B10" t="inlineStr"><is><t>%s</t></is></c></row>' % (b"x" * 10_000_000))


def million_laughs():
    entities = b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    return with_parts(plain_xlsx(), {"sheet1.xml": lambda part: entities + part})


def entity_of_a_file():
    entity = b'<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/hostname">]>'
    content = saved(document(table("Mats", [["Mat"]])))
    return with_parts(content, {"content.xml": lambda part: part.replace(b"?>", b"?>" + entity, 1)})


def links_and_circles():
    """Links to other workbooks, names that name each other, a formula without a value."""
    book = openpyxl.load_workbook(io.BytesIO(plain_xlsx()))
    book.defined_names["one"] = openpyxl.workbook.defined_name.DefinedName("one", attr_text="two")
    book.defined_names["two"] = openpyxl.workbook.defined_name.DefinedName("two", attr_text="one")
    book.active.append(("=one", "='[//example.invalid/other.xlsx]Sheet1'!A1"))
    book.active.append(('=HYPERLINK("https://example.invalid/")', "=C3"))
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def days_before_all_days():
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream) as book:
        sheet, day = book.add_worksheet(), book.add_format({"num_format": "yyyy-mm-dd"})
        for row, number in enumerate((-5, 0, 0.5, 2_958_466, 1e300, 45_000)):
            sheet.write_number(row, 0, number, day)
    return stream.getvalue()


def days_before_all_days_of_an_older_kind():
    book = xlwt.Workbook()
    sheet, day = book.add_sheet("Days"), xlwt.easyxf(num_format_str="yyyy-mm-dd")
    for row, number in enumerate((-5, 0, 0.5, 2_958_466, 1e300, 45_000)):
        sheet.write(row, 0, number, day)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def repeats(down, across):
    """An .ods of one cell that stands for that many."""
    content = saved(document(table("Mats", [["x"]])))
    cell = f'<table:table-cell table:number-columns-repeated="{across}" '.encode()
    row = f'<table:table-row table:number-rows-repeated="{down}">'.encode()
    return with_parts(
        content,
        {"content.xml": lambda part: part.replace(b"<table:table-cell ", cell).replace(b"<table:table-row>", row)},
    )


def compound(*streams):
    """The first bytes of a compound file, with the names of streams as it keeps them."""
    return b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504) + b"".join(name.encode("utf-16-le") for name in streams)


def locked_xls():
    """A record that says that what follows is enciphered, behind the first record of a workbook."""
    book = xlwt.Workbook()
    book.add_sheet("Mats").write(0, 0, "M-001")
    stream = io.BytesIO()
    book.save(stream)
    content = bytearray(stream.getvalue())
    start = content.index(struct.pack("<HHH", 0x0809, 16, 0x0600))
    second = start + 20
    # FILEPASS in place of whatever record comes second
    struct.pack_into("<H", content, second, 0x002F)
    return bytes(content)


def macros_alone():
    """A workbook whose one sheet is a chart: what calls itself a workbook and holds no cell."""
    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream) as book:
        sheet = book.add_chartsheet()
        chart = book.add_chart({"type": "bar"})
        chart.add_series({"values": "={1,2}"})
        sheet.set_chart(chart)
    return stream.getvalue()
