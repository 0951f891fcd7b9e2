"""From the bytes of a CSV file to its rows: encoding, separator, quotes, header (RFC 4180 and beyond)."""

import codecs
import csv
import hashlib
import io
from collections import Counter
from dataclasses import dataclass

import numpy as np

from .findings import short

MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
# zip (and with it every newer spreadsheet), older spreadsheets, PDF
FOREIGN = (
    (b"PK\x03\x04", "a zip or spreadsheet file"),
    (b"\xd0\xcf\x11\xe0", "a spreadsheet file"),
    (b"%PDF", "a PDF"),
)
# columns of a file that are named when they are not ours
MOST_NAMED = 20
CONTROLS = frozenset(range(32)) - frozenset(b"\t\n\x0b\x0c\r")


@dataclass(frozen=True)
class RawTable:
    """The cells of one file as text: one array for each column of the header, `lines[i]` the line of row i."""

    file: str
    sha256: str
    lines: np.ndarray
    cells: dict
    decimal_comma: bool

    def __len__(self):
        return len(self.lines)


class NotACsv(Exception):
    """`found` instead of a CSV text."""

    def __init__(self, found):
        self.found = found
        super().__init__(found)


def decoded(content):
    """Text of the bytes: UTF-8, UTF-16 (with or without its mark), else Latin-1 as Windows writes it."""
    for start, what in FOREIGN:
        if content.startswith(start):
            raise NotACsv(what)
    try:
        text = content.decode(_encoding(content))
    except UnicodeDecodeError:
        text = _one_byte_each(content)
    if "\0" in text:
        raise NotACsv("binary content")
    return text


def _encoding(content):
    for mark, encoding in MARKS:
        if content.startswith(mark):
            return encoding
    head = content[:400]
    # a header is plain ASCII, so that in UTF-16 every second byte is zero
    if len(head) >= 4 and len(content) % 2 == 0:
        if not any(head[1::2]) and all(head[0::2]):
            return "utf-16-le"
        if not any(head[0::2]) and all(head[1::2]):
            return "utf-16-be"
    return "utf-8"


def _one_byte_each(content):
    if CONTROLS & set(content):
        raise NotACsv("binary content")
    try:
        return content.decode("cp1252")
    except UnicodeDecodeError:
        raise NotACsv("binary content") from None


def read_csv(layout, content, errors):
    """The rows of a file; None, with the reason among the errors, when they cannot be told apart."""
    header_wanted = ",".join(layout.names)
    if not content.strip(b"\xef\xbb\xbf\xff\xfe \t\r\n\0"):
        return errors.add(layout.file, 0, "", "an empty file", f"a header: {header_wanted}")
    try:
        text = decoded(content)
    except NotACsv as error:
        return errors.add(layout.file, 0, "", error.found, f"a CSV text with the header {header_wanted}")
    separator = _separator(text)
    try:
        header, rows, lines = _rows(layout, text, separator, errors)
    except csv.Error as error:
        return errors.add(layout.file, error.line, "", str(error), "each quote closed, and doubled within a cell")
    if not _header_fits(layout, header, errors):
        return None
    columns = zip(*rows, strict=True) if rows else ((),) * len(header)
    cells = {name: np.array(column, dtype=object) for name, column in zip(header, columns, strict=True)}
    digest = hashlib.sha256(content).hexdigest()
    return RawTable(layout.file, digest, np.array(lines, dtype=np.int64), cells, separator == ";")


def _separator(text):
    header = text.lstrip("\r\n").partition("\n")[0]
    return ";" if header.count(";") > header.count(",") else ","


def _rows(layout, text, separator, errors):
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    rows, lines, header = [], [], None
    try:
        for cells in reader:
            if not any(cells):
                continue
            if header is None:
                header = [cell.strip() for cell in cells]
            elif len(cells) != len(header):
                expected = f"{len(header)} cells, as in the header"
                errors.add(layout.file, reader.line_num, "", f"{len(cells)} cells", expected)
            else:
                rows.append(cells)
                lines.append(reader.line_num)
    except csv.Error as error:
        error.line = reader.line_num
        raise
    return header or [], rows, lines


def _header_fits(layout, header, errors):
    before, times, expected = errors.count, Counter(header), f"only the columns {', '.join(layout.names)}"
    for name in [name for name in times if times[name] > 1][:MOST_NAMED]:
        errors.add(layout.file, 1, short(name), f"column {short(name)} {times[name]} times", "each column once")
    others = [name for name in times if name not in layout.names]
    for name in others[:MOST_NAMED]:
        errors.add(layout.file, 1, short(name), f"column “{short(name)}”", expected)
    if len(others) > MOST_NAMED:
        errors.add(layout.file, 1, "", f"{len(others) - MOST_NAMED:,} more columns of other names", expected)
    for column in layout.columns:
        if column.needed and column.name not in header:
            errors.add(layout.file, 1, column.name, "no such column", f"a column {column.name}")
    return errors.count == before
