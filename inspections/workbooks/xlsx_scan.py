"""A first look at the XML of an .xlsx: how far its sheets reach, and what their reader would drop.

The reader makes room for every cell up to the last one before anybody can ask how many these are, and knows neither the
form in which a number is shown, nor error values, nor formulas that nobody has calculated (ECMA-376-1 18.3.1).
"""

import re
from array import array
from functools import lru_cache
from typing import NamedTuple

from .bounds import LAST_COLUMN, LAST_ROW, MOST_CELLS
from .number_formats import BUILT_IN, Shows, shows
from .safe_xml import UnsafeXml, local_name, parse, xml_parser

REFERENCE = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})")
# `#REF!`, `#DIV/0!`, `#N/A`, `#NAME?`
ERROR_WORD, NO_WORD = re.compile(r"#[A-Z0-9/_]{1,14}[!?]?"), "#N/A"


class Mark(NamedTuple):
    """Why the value of a cell does not say what it shows: the format of a number, an error, or no value at all."""

    format_code: str = ""
    error: str = ""


UNCALCULATED = Mark()


class ScannedSheet:
    """`rows` and `columns` up to the last cell that holds something; cells are named (row, column), from 0."""

    def __init__(self, name, marks_of_styles, shared_lengths, bounds):
        self.name, self._of_styles, self._shared, self._bounds = name, marks_of_styles, shared_lengths, bounds
        self.rows = self.columns = 0
        # a few bytes for each marked cell, of which there may be millions: its place, and the number of its mark
        self._marked, self._marks = (array("I"), array("I"), array("I")), {}
        self._filled = 0
        self._row = self._column = -1
        # the digits at the end of a cell of this row, and the columns by their letters
        self._digits, self._known = "0", {}
        self._kind, self._style, self._has_formula, self._text, self._pieces = "n", None, False, None, []
        self._starts = {"row": self._start_row, "c": self._start_cell, "v": self._start_value}
        self._starts |= {"f": self._start_formula, "is": self._start_value}
        self._ends = {"c": self._end_cell, "v": self._end_value, "is": self._end_value}

    def read(self, content):
        """Read the bytes of the sheet. UnsafeXml, or WorkbookRefused by the bounds."""
        self._parser = xml_parser(self._start, self._end)
        parse(self._parser, content)
        self._bounds.take_cells(self.name, self.rows, self.columns)

    def marks(self):
        """((row, column), mark) of cells whose value alone does not say what they show."""
        marks = list(self._marks)
        return (((row, column), marks[number]) for row, column, number in zip(*self._marked, strict=True))

    def _mark(self, mark):
        number = self._marks.setdefault(mark, len(self._marks))
        for each, value in zip(self._marked, (self._row, self._column, number), strict=True):
            each.append(value)

    def _start(self, name, attributes):
        handler = self._starts.get(name)
        if handler is None and ":" in name:
            handler = self._starts.get(local_name(name))
        if handler is not None:
            handler(attributes)

    def _end(self, name):
        handler = self._ends.get(name)
        if handler is None and ":" in name:
            handler = self._ends.get(local_name(name))
        if handler is not None:
            handler()

    def _start_row(self, attributes):
        self._row = row_number(attributes["r"]) if "r" in attributes else self._row + 1
        self._column, self._digits = -1, str(self._row + 1)

    def _start_cell(self, attributes):
        reference = attributes.get("r")
        if reference is None:
            self._column += 1
        elif reference.endswith(self._digits) and (letters := reference[: -len(self._digits)]) in self._known:
            self._column = self._known[letters]
        else:
            self._row, self._column = place_of(reference)
            self._digits = str(self._row + 1)
            self._known[reference.removesuffix(self._digits)] = self._column
        self._kind, self._style = attributes.get("t", "n"), attributes.get("s")
        self._has_formula, self._text = False, None

    def _start_formula(self, attributes):
        self._has_formula = True

    def _start_value(self, attributes):
        if self._row >= self.rows or self._column >= self.columns:
            self._reach()
        # a number is known to its reader; only whether a formula has one is not
        if self._kind != "n" or self._has_formula:
            self._pieces, self._text = [], None
            self._parser.CharacterDataHandler = self._pieces.append
        else:
            self._text = ""

    def _reach(self):
        self.rows, self.columns = max(self.rows, self._row + 1), max(self.columns, self._column + 1)
        self._bounds.look_at(self.name, self.rows, self.columns)

    def _end_value(self):
        if self._text is None:
            self._parser.CharacterDataHandler = None
            self._text = "".join(self._pieces)

    def _end_cell(self):
        if self._text is not None:
            self._filled += 1
            if self._filled > MOST_CELLS:
                raise UnsafeXml("more cells than places for them")
        if self._has_formula and not self._text and self._kind != "str":
            self._reach()
            self._mark(UNCALCULATED)
        elif self._kind == "e":
            known = ERROR_WORD.fullmatch(self._text or "")
            self._mark(Mark(error=self._text if known else NO_WORD))
        elif self._kind == "s":
            self._take_text(self._shared.length(self._text))
        elif self._kind in ("str", "inlineStr"):
            self._take_text(len(self._text or ""))
        elif self._text is not None and self._style in self._of_styles:
            self._mark(self._of_styles[self._style])

    def _take_text(self, length):
        self._bounds.take_text(self.name, self._row, self._column, length)


def row_number(text):
    """From 0."""
    if not text.isascii() or not text.isdecimal() or len(text) > 7 or not 1 <= int(text) <= LAST_ROW:
        raise UnsafeXml("a row that no sheet has")
    return int(text) - 1


def place_of(reference):
    """(row, column) of `C5`, from 0. UnsafeXml of what is no cell, for which its reader runs out of memory."""
    match = REFERENCE.fullmatch(reference)
    if not match or int(match[2]) > LAST_ROW:
        raise UnsafeXml("a cell that no sheet has")
    return int(match[2]) - 1, _column_number(match[1])


@lru_cache(maxsize=LAST_COLUMN)
def _column_number(letters):
    column = 0
    for letter in letters:
        column = column * 26 + ord(letter) - 64
    if column > LAST_COLUMN:
        raise UnsafeXml("a column that no sheet has")
    return column - 1


class SharedLengths:
    """How long the texts are that the sheets of a workbook share (18.4.8)."""

    def __init__(self, content):
        self._lengths = []
        self._parser = xml_parser(self._start, self._end)
        if content:
            parse(self._parser, content)

    def _start(self, name, attributes):
        if local_name(name) == "si":
            self._lengths.append(0)
            self._parser.CharacterDataHandler = self._count

    def _count(self, characters):
        self._lengths[-1] += len(characters)

    def _end(self, name):
        if local_name(name) == "si":
            self._parser.CharacterDataHandler = None

    def length(self, number):
        """Of the text that a cell names by its number; 0 where there is none."""
        number = (number or "").strip()
        known = number.isascii() and number.isdecimal() and int(number[:9]) < len(self._lengths)
        return self._lengths[int(number)] if known else 0


class Styles:
    """`marks` {style of a cell, as it names it: Mark} of styles that show more than a number (18.8)."""

    def __init__(self, content):
        self._codes, self._styles, self._within = {**BUILT_IN}, [], False
        if content:
            parse(xml_parser(self._start, self._end), content)
        codes = [self._codes.get(number, "General") for number in self._styles]
        # a cell that names no style has the first
        named = [(None, codes[0])] if codes else []
        named += [(str(place), code) for place, code in enumerate(codes)]
        self.marks = {style: Mark(code) for style, code in named if shows(code) is not Shows.NUMBER}

    def _start(self, name, attributes):
        name = local_name(name)
        if name == "cellXfs":
            self._within = True
        elif name == "numFmt":
            self._codes[_whole(attributes.get("numFmtId"))] = attributes.get("formatCode", "")
        elif name == "xf" and self._within:
            self._styles.append(_whole(attributes.get("numFmtId")))

    def _end(self, name):
        if local_name(name) == "cellXfs":
            self._within = False


def _whole(text):
    return int(text) if text and text.isascii() and text.isdecimal() and len(text) < 10 else 0
