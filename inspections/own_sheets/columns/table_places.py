"""Where in a sheet its table stands: headings below title lines, rows down to the totals at the foot."""

import re
from dataclasses import dataclass

import numpy as np

from ...workbooks.sheet import CellKind
from .heading_words import heading_fits, plain_heading, sums_up
from .wide_headings import FEWEST, Heading, kind_of_heading

# rows from the top among which headings are looked for; rows from the foot among which totals are
SEARCHED, FOOT = 40, 12
# of a year's days across and some more; what lies further right counts for nothing in the search
WIDEST = 400


_HAS_FIGURE = re.compile(r"\d")


@dataclass(frozen=True)
class Place:
    """Rows of a table, counted from 0: of its headings (None: it has none), of its first row, and behind its last."""

    header_row: int | None
    first_row: int
    end_row: int


def find_table(sheet):
    """The Place of the table of a sheet; its rows are none where the sheet is empty."""
    filled = np.flatnonzero((sheet.kinds != CellKind.EMPTY).any(axis=1)) if sheet.kinds.size else []
    if not len(filled):
        return Place(None, 0, 0)
    header = _header_row(sheet, filled)
    first = 0 if header is None else header + 1
    rows = filled[filled >= first]
    return Place(header, int(rows[0]), end_of_rows(sheet, rows)) if len(rows) else Place(header, first, first)


def place_below(sheet, header_row):
    """The Place of the table with its headings in this row."""
    rows = _rows_from(sheet, header_row + 1)
    if not len(rows):
        return Place(header_row, header_row + 1, header_row + 1)
    return Place(header_row, int(rows[0]), end_of_rows(sheet, rows))


def place_with(sheet, header_row, end_row):
    """The Place of a table with its headings in this row, None for none, that ends before `end_row`."""
    first = 0 if header_row is None else header_row + 1
    rows = _rows_from(sheet, first)
    return Place(header_row, int(rows[0]) if len(rows) else first, end_row)


def _rows_from(sheet, first):
    """The rows from this one on that hold anything."""
    return first + np.flatnonzero(sheet.kinds[first:].any(axis=1)) if sheet.kinds.size else []


def _header_row(sheet, filled):
    """The row that has most headings which the app knows; else the first that is all text above what is not."""
    for kind in (_kind_sooner_reading, _kind):
        scores = {int(row): _score(sheet, row, kind) for row in filled[:SEARCHED]}
        best = max(scores, key=scores.get)
        if scores[best] >= 1:
            return best
    told = next((row for row in scores if _is_text_above_others(sheet, row)), None)
    return told if told is not None else next((row for row in scores if _looks_like_headings(sheet, row)), None)


def _score(sheet, row, kind):
    texts, kinds = sheet.texts[row, :WIDEST], sheet.kinds[row, :WIDEST]
    fits = (heading_fits(plain_heading(text)) for text in texts[kinds == CellKind.TEXT])
    known = sum(max(fit.values(), default=0) for fit in fits)
    wide = max(_count_wide(sheet, row, heading, kind) for heading in (Heading.DAY, Heading.POSITION))
    return known + wide


def _count_wide(sheet, row, heading, kind):
    """How many cells of a row are headings of this kind above cells that are not; 0 where they are few."""
    columns = [column for column in np.flatnonzero(sheet.kinds[row, :WIDEST]) if kind(sheet, row, column) is heading]
    below = {column: _kind_below(sheet, row, column, kind) for column in columns}
    above_others = [column for column in columns if below[column] is not heading]
    is_headings = any(below[column] is not None for column in above_others)
    texts = {sheet.texts[row, column] for column in above_others}
    return len(texts) if is_headings and FEWEST <= len(texts) == len(above_others) else 0


def _kind_below(sheet, row, column, kind):
    """The Heading that the next filled cell of the column would be; None where there is none."""
    filled = np.flatnonzero(sheet.kinds[row + 1 : row + 1 + SEARCHED, column])
    return kind(sheet, row + 1 + int(filled[0]), column) if len(filled) else None


def _kind(sheet, row, column):
    return kind_of_heading(sheet.texts[row, column].strip(), sheet.kinds[row, column])


def _kind_sooner_reading(sheet, row, column):
    """As `_kind`, but a number such as 1.3 is a reading sooner than a day."""
    is_reading = sheet.kinds[row, column] == CellKind.NUMBER and not sheet.texts[row, column].strip().isdecimal()
    return Heading.OTHER if is_reading else _kind(sheet, row, column)


def _is_text_above_others(sheet, row):
    """Of a row with at least two cells, all of them text, above a column that is not text."""
    columns = np.flatnonzero(sheet.kinds[row])
    below = sheet.kinds[row + 1 : row + 1 + SEARCHED, columns]
    others = (below != CellKind.EMPTY) & (below != CellKind.TEXT)
    return len(columns) > 1 and (sheet.kinds[row, columns] == CellKind.TEXT).all() and others.any()


def _looks_like_headings(sheet, row):
    """Of a row with at least two cells, all different words without a figure, above others."""
    texts = [text.strip() for text in sheet.texts[row] if text.strip()]
    is_last = row + 1 >= len(sheet.texts)
    return not is_last and 1 < len(texts) == len(set(texts)) and not any(map(_HAS_FIGURE.search, texts))


def end_of_rows(sheet, rows):
    """The row behind the last of these filled rows that is no total and no remark at the foot."""
    rows = list(rows)
    for at in range(max(1, len(rows) - FOOT), len(rows)):
        if _sums_up(sheet, rows[at]) or _is_remark(sheet, rows, at):
            return int(rows[at - 1]) + 1
    return int(rows[-1]) + 1


def _sums_up(sheet, row):
    texts = sheet.texts[row][sheet.kinds[row] == CellKind.TEXT][:2]
    return any(sums_up(plain_heading(text)) for text in texts)


def _is_remark(sheet, rows, at):
    """One cell or two below a gap, where rows of the table have more."""
    widths = np.count_nonzero(sheet.kinds[rows[:at]], axis=1)
    narrow = np.count_nonzero(sheet.kinds[rows[at:]], axis=1).max()
    return rows[at] > rows[at - 1] + 1 and narrow <= 2 and narrow < np.median(widths)


def headings_of(sheet, header_row):
    """The heading of each column as people read it, [""] where there is none.

    A cell above an empty one counts below too. A year or a day over several columns stands behind them, `Jan 2024`,
    and so does a year that stands only above the first of them.
    """
    if header_row is None:
        return [""] * sheet.texts.shape[1]
    own = [text.strip() for text in sheet.texts[header_row]]
    if header_row:
        own = [text or above for text, above in zip(own, _above_empty(sheet, header_row), strict=True)]
    groups = _groups(sheet, header_row, own)
    return [
        f"{text} {group}".strip() if text and group != text else text for text, group in zip(own, groups, strict=True)
    ]


def _above_empty(sheet, header_row):
    """What stands in the row above and not over several columns; nothing of a title, which stands alone."""
    above = [text.strip() for text in sheet.texts[header_row - 1]]
    merged_down = {}
    for top, left, bottom, right in sheet.merged:
        if left < right and top <= header_row - 1 <= bottom:
            above[left : right + 1] = [""] * (right + 1 - left)
        elif top < header_row <= bottom:
            merged_down[left] = sheet.texts[top, left].strip()
    alone = sum(map(bool, above)) < 2
    return [merged_down.get(column) or ("" if alone else text) for column, text in enumerate(above)]


def _groups(sheet, header_row, own):
    """Days and years above several columns each; nothing where one stands above all of them, as a title does."""
    groups = [""] * len(own)
    first = next((column for column, text in enumerate(own) if text), 0)
    for top, left, bottom, right in sheet.merged:
        if bottom == header_row - 1 and right > left > first and _kind(sheet, top, left) is Heading.DAY:
            groups[left : right + 1] = [sheet.texts[top, left].strip()] * (right + 1 - left)
    return groups if any(groups) or not header_row else _years_above(sheet, header_row, own)


def _years_above(sheet, header_row, own):
    above, year, found = [text.strip() for text in sheet.texts[header_row - 1]], "", []
    named = [text for text in above if text]
    if not named or not all(text.isdigit() and len(text) == 4 for text in named):
        return [""] * len(own)
    for text in above:
        year = text or year
        found.append(year)
    return found
