"""Texts of separated values, of whatever separator and encoding, as one sheet."""

import csv
import datetime
import io
import re
from collections import Counter
from pathlib import PurePath

from fleet.parsing.encodings import NotText, decoded

from .bounds import MOST_COLUMNS, Bounds
from .grids import empty_grid, sheet_of
from .sheet import CellKind, WorkbookRefused
from .shown import shown_text

# where two fit as well, the first: a semicolon stands beside decimal commas, and a comma in a text is no separator
SEPARATORS = (";", "\t", "|", ",")
LOOKED_AT = 200
# a first line that some programs write, and take for themselves
SAID = re.compile(r"sep=(.)\r?\n?", re.IGNORECASE)
PLAIN_NUMBER = re.compile(r"-?(0|[1-9]\d{0,14})(\.\d{1,17})?", re.ASCII)
ISO_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)


def read_separated(file, content):
    """The one sheet of a file. WorkbookRefused where it is no text, or more than is read."""
    try:
        text = decoded(content)
    except NotText as error:
        raise WorkbookRefused(
            f"{file} holds {error.found}, and no list. Send a workbook (.xlsx, .xls, .ods) or a text of separated "
            "values (.csv)."
        ) from error
    said = SAID.match(text)
    separator = said[1] if said else _separator(text)
    rows = _rows(file, text[said.end() :] if said else text, separator)
    # the rows below keep the numbers that they have in the file
    return (_sheet(file, [[], *rows] if said else rows),)


def _separator(text):
    """The one that cuts the most lines into as many cells as each other, and then into the most."""
    lines = list(_first_lines(text))
    fits = [_fit(lines, separator) for separator in SEPARATORS]
    return SEPARATORS[fits.index(max(fits))]


def _first_lines(text):
    for number, line in enumerate(io.StringIO(text, newline=None)):
        if number >= LOOKED_AT:
            return
        yield line


def _fit(lines, separator):
    try:
        lengths = Counter(len(cells) for cells in csv.reader(lines, delimiter=separator) if len(cells) > 1)
    except csv.Error:
        return (0, 0)
    cells, rows = max(lengths.items(), key=lambda pair: (pair[1], pair[0]), default=(0, 0))
    return (rows, 0 if separator == "," else cells)


def _rows(file, text, separator):
    bounds, name = Bounds(file), PurePath(file).stem
    for number, line in enumerate(re.split(r"[\r\n]", text)):
        # before the line is cut: a file of separators alone makes more cells than there is room for
        if line.count(separator) >= MOST_COLUMNS:
            bounds.look_at(name, number + 1, line.count(separator) + 1)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    rows, widest = [], 0
    try:
        for cells in reader:
            rows.append(cells)
            widest = max(widest, len(cells))
            bounds.look_at(name, len(rows), widest)
    except csv.Error as error:
        raise WorkbookRefused(
            f"{file} cannot be read at line {reader.line_num:,}: {error}. Each quote must be closed, and doubled "
            "within a cell."
        ) from error
    return rows


def _sheet(file, rows):
    bounds, name, known = Bounds(file), PurePath(file).stem, {}
    texts, kinds = empty_grid(len(rows), max(map(len, rows), default=0))
    for row, cells in enumerate(rows):
        for column, cell in enumerate(cells):
            if cell not in known:
                # of a text that comes again no more room is taken
                bounds.take_text(name, row, column, len(cell))
                known[cell] = _shown(cell)
        shown = [known[cell] for cell in cells]
        texts[row, : len(shown)] = [text for text, _ in shown]
        kinds[row, : len(shown)] = [kind for _, kind in shown]
    return sheet_of(name, False, texts, kinds)


def _shown(cell):
    if PLAIN_NUMBER.fullmatch(cell):
        return cell, CellKind.NUMBER
    if ISO_DAY.fullmatch(cell) and _is_day(cell):
        return cell, CellKind.DAY
    return shown_text(cell)


def _is_day(text):
    try:
        datetime.date.fromisoformat(text)
    except ValueError:
        return False
    return True
