"""From the bytes of a CSV file to its rows: separator, quotes, header (RFC 4180 and beyond)."""

import csv
import hashlib
import io
from collections import Counter
from dataclasses import dataclass, field

import numpy as np

from ..parsing.encodings import NotText, decoded
from .findings import short

# columns of a file that are named when they are not ours
MOST_NAMED = 20


@dataclass(frozen=True)
class RawTable:
    """The cells of one file as text: one array for each column of the header, `lines[i]` the line of row i.

    `source`: the name of the keeper's own file that it was made of. `instead`: {key of a row, its values: that of the
    stored row whose place it takes}.
    """

    file: str
    sha256: str
    lines: np.ndarray
    cells: dict
    decimal_comma: bool
    instead: dict = field(default_factory=dict)
    source: str = ""

    def __len__(self):
        return len(self.lines)


def read_csv(layout, content, errors):
    """The rows of a file; None, with the reason among the errors, when they cannot be told apart."""
    header_wanted = ",".join(layout.names)
    if not content.strip(b"\xef\xbb\xbf\xff\xfe \t\r\n\0"):
        return errors.add(layout.file, 0, "", "an empty file", f"a header: {header_wanted}")
    try:
        text = decoded(content)
    except NotText as error:
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
