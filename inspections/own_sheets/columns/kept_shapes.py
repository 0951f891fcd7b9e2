"""Sheets of one shape: the same headings in the same order, however many days or positions stand across.

What was said of a sheet is kept under its shape, so that nobody is asked again for the next file.
"""

from dataclasses import replace
from hashlib import sha256

import numpy as np

from fleet.parsing.day_orders import DayOrder

from ..meanings import FIELDS, ColumnMeaning, SheetKind, SheetMeaning
from .heading_words import is_summary, plain_heading
from .table_places import SEARCHED, headings_of, place_below
from .wide_headings import Heading, kind_of_heading

_RUNS = {Heading.DAY: "‹day›", Heading.POSITION: "‹position›"}
_NOTHING = ["", False]
# behind the shape of a sheet that is not taken unasked: what is said of it is not said of one that is seen
_UNASKED = "\x1f‹unasked›"


def marks_of(sheet, header_row):
    """A mark for each column: its plain heading, or that it is a day or a position."""
    headings, kinds = headings_of(sheet, header_row), sheet.kinds[header_row]
    own = zip(sheet.texts[header_row], kinds, headings, strict=True)
    return [_RUNS.get(kind_of_heading(text.strip(), kind)) or plain_heading(heading) for text, kind, heading in own]


def shape_of(sheet, header_row):
    """The shape of a sheet with its headings in this row; None where it has none, or one."""
    if header_row is None:
        return None
    marks = marks_of(sheet, header_row)
    once = [marks[run[0]] for run in _runs(marks)]
    # one heading alone may as well be a title
    is_told = sum(map(bool, marks)) > 1
    behind = _UNASKED if sheet.hidden or is_summary(plain_heading(sheet.name)) else ""
    return sha256(("\x1f".join(once).rstrip("\x1f") + behind).encode()).hexdigest() if is_told else None


def _runs(marks):
    """Columns, as lists of their places, of which one mark stands: alike days or positions beside each other as one."""
    runs = []
    for at, mark in enumerate(marks):
        if runs and mark in _RUNS.values() and marks[runs[-1][0]] == mark:
            runs[-1].append(at)
        else:
            runs.append([at])
    return runs


def rows_by_shape(sheet):
    """{shape: row} of the rows that may hold headings, of each the first."""
    filled = np.flatnonzero(sheet.kinds.any(axis=1))[:SEARCHED] if sheet.kinds.size else []
    shapes = [(shape_of(sheet, int(row)), int(row)) for row in filled]
    return dict(reversed([(shape, row) for shape, row in shapes if shape]))


def shapes_of(workbook):
    return {shape for sheet in workbook.sheets for shape in rows_by_shape(sheet)}


def what_is_kept(sheet, meaning):
    """What of a meaning holds for every sheet of its shape, as JSON can hold it."""
    columns = {column.index: [column.field, column.note] for column in meaning.columns}
    said = [_said_of_run(run, columns) for run in _runs(marks_of(sheet, meaning.header_row))]
    return {"kind": meaning.kind, "columns": said, "day_order": meaning.day_order, "answers": _lasting(meaning.answers)}


def _lasting(answers):
    """What holds for the next file too: its builds, not its year."""
    # PostgreSQL keeps no text with this sign
    builds = {name: said for name, said in answers.get("builds", {}).items() if "\0" not in name}
    return {"builds": builds} if "builds" in answers else {}


def _said_of_run(run, columns):
    """What is said of all columns of a run alike; nothing where it differs."""
    said = [columns.get(at, _NOTHING) for at in run]
    return said[0] if all(each == said[0] for each in said) else _NOTHING


def to_keep(workbook, meanings):
    """{shape: (name of the sheet, what is kept of its meaning)} of the sheets that have headings."""
    pairs = zip(workbook.sheets, meanings, strict=True)
    found = [(shape_of(sheet, meaning.header_row), sheet, meaning) for sheet, meaning in pairs]
    return {shape: (sheet.name, what_is_kept(sheet, meaning)) for shape, sheet, meaning in found if shape}


def kept_meaning(sheet, kept):
    """The SheetMeaning by what is kept for the sheet's shape; None where nothing is."""
    rows = rows_by_shape(sheet) if kept else {}
    shape = next((shape for shape in rows if shape in kept), None)
    # a kind of an earlier version of the app is asked anew
    if shape is None or kept[shape]["kind"] not in set(SheetKind):
        return None
    place, said = place_below(sheet, rows[shape]), kept[shape]
    meaning = SheetMeaning(sheet.name, SheetKind(said["kind"]), place.header_row, place.first_row, place.end_row)
    columns = tuple(_columns_as_said(marks_of(sheet, place.header_row), said["columns"], meaning.kind))
    return replace(meaning, columns=columns, day_order=DayOrder(said["day_order"]), answers=dict(said["answers"]))


def _columns_as_said(marks, said, kind):
    for run, (name, note) in zip(_runs(marks), said, strict=False):
        if name in FIELDS[kind] or note:
            yield from (ColumnMeaning(at, name, note) for at in run)
