"""Workbooks of OpenDocument, by odfdo."""

import datetime
import io

from kept_cells import clock, day, error, month, number, yes_no
from odfdo import Cell, Document, Element, Row, Table

POINT = "<number:text>.</number:text>"
WHOLE = '<number:number number:decimal-places="0" number:min-integer-digits="{}"/>'
STYLES = {
    "month": (
        "date",
        '<number:month number:textual="true"/><number:text> </number:text><number:year/>',
    ),
    "german": (
        "date",
        f"<number:day/>{POINT}<number:month/>{POINT}<number:year/>",
    ),
    "quarter": ("date", "<number:quarter/><number:text> </number:text><number:year/>"),
    "serial": ("number", WHOLE.format(6)),
    "loss": ("number", '<number:number number:decimal-places="1" number:min-integer-digits="1"/>'),
    "kit": (
        "number",
        "<number:text>K</number:text>" + WHOLE.format(1),
    ),
}


def document(*tables):
    """A document of these tables, with the styles above for its cells (`month`) and for tables out of sight."""
    made = Document("spreadsheet")
    made.body.clear()
    for name, (kind, parts) in STYLES.items():
        tag = f'<number:{kind}-style style:name="N-{name}">{parts}</number:{kind}-style>'
        made.insert_style(Element.from_tag(tag), automatic=True)
        tag = f'<style:style style:name="{name}" style:family="table-cell" style:data-style-name="N-{name}"/>'
        made.insert_style(Element.from_tag(tag), automatic=True)
    unseen = '<style:table-properties table:display="false"/>'
    tag = f'<style:style style:name="unseen" style:family="table">{unseen}</style:style>'
    made.insert_style(Element.from_tag(tag), automatic=True)
    for table in tables:
        made.body.append(table)
    return made


def saved(made):
    stream = io.BytesIO()
    made.save(stream)
    return stream.getvalue()


def table(name, rows, **options):
    made = Table(name, **options)
    for cells in rows:
        row = Row()
        for cell in cells:
            row.append_cell(cell if isinstance(cell, Cell) else Cell(cell))
        made.append_row(row)
    return made


def cables_as_libre_programs_write_them():
    made = table(
        "Kabel",
        [
            ["Nummer", "Länge", "gewechselt", "Quartal", "Matte", "geprüft"],
            [
                Cell(4711, text="004711", style="serial"),
                Cell(3.25, text="3,3", style="loss"),
                Cell(datetime.date(2024, 5, 1), text="Mai 2024", style="month"),
                Cell(datetime.date(2024, 7, 1), text="Q3 2024", style="quarter"),
                Cell(4, text="K4", style="kit"),
                Cell(True, text="WAHR"),
            ],
            [
                Cell(12, text="000012", style="serial"),
                Cell(2, text="2,0", style="loss"),
                Cell(datetime.date(2024, 5, 3), text="03.05.2024", style="german"),
                None,
                Cell("K4"),
                Cell(False, text="FALSCH"),
            ],
        ],
    )
    return (
        saved(document(made, table("fort", [["M-0"]], style="unseen"))),
        {
            "Kabel": [
                ["Nummer", "Länge", "gewechselt", "Quartal", "Matte", "geprüft"],
                ["004711", number("3.25"), month("May 2024"), "Q3 2024", "K4", yes_no("yes")],
                ["000012", number("2"), day("2024-05-03"), "", "K4", yes_no("no")],
            ],
            "fort": [["M-0"]],
        },
        ("fort",),
    )


def readings_repeated():
    """Cells and rows that stand once in the file and several times in the sheet; blanks to the end of all rows."""
    made = table("dB", [["Mat", "1", "2", "3"]])
    row = Row(repeated=2)
    row.append_cell(Cell("M-001"))
    row.append_cell(Cell(0.61, repeated=2))
    row.append_cell(Cell("#DIV/0!", text="#DIV/0!"))
    made.append_row(row)
    late = Row()
    for cell in (Cell("home"), Cell(datetime.timedelta(hours=14, minutes=30)), Cell(None, repeated=16_000)):
        late.append_cell(cell)
    made.append_row(late)
    made.append_row(Row(repeated=1_000_000))
    for cell in made.get_elements("//table:table-cell[text:p='#DIV/0!']"):
        cell.set_attribute("calcext:value-type", "error")
    reading = ["M-001", number("0.61"), number("0.61"), error("#DIV/0!")]
    rows = [["Mat", "1", "2", "3"], reading, reading, ["home", clock("14:30"), "", ""]]
    return saved(document(made)), {"dB": rows}


def comments_and_deleted_cells():
    """A comment and a deleted cell stand in the file, but not in the cell."""
    made = table("Mats", [["Mat", "Depot"], ["M-001", "Quay Street"]])
    cell = made.get_cell((1, 1))
    cell.append(Element.from_tag("<office:annotation><text:p>behind the door</text:p></office:annotation>"))
    cell.append(Element.from_tag("<text:p>rack<text:s text:c='2'/>4</text:p>"))
    made.set_cell((1, 1), cell)
    made.set_span((0, 2, 1, 2))
    made.set_value((0, 2), "no more")
    document_ = document(made)
    return (
        saved(document_),
        {"Mats": [["Mat", "Depot"], ["M-001", "Quay Street\nrack  4"], ["no more", ""]]},
        (),
        {"Mats": ((2, 0, 2, 1),)},
    )


MAKERS = [
    ("cables.ods", cables_as_libre_programs_write_them),
    ("readings.ods", readings_repeated),
    ("mats.ods", comments_and_deleted_cells),
]
