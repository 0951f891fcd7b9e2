"""How well a column of a sheet fits a field: by its heading, and by what stands in its cells."""

from dataclasses import dataclass

from ..meanings import (
    BUILD,
    CABLES,
    DAY_FIELDS,
    FIELDS,
    FREQUENCY,
    LENGTH,
    LOSS,
    MAT,
    MATS,
    POSITION,
    SEGMENT,
    STARTS,
    TEMPERATURE,
    WET,
    WIDTH,
    SheetKind,
)
from .cell_profiles import Profile, profile_of
from .heading_words import heading_fits, plain_heading
from .table_places import headings_of
from .wide_headings import Heading, kind_of_heading

# below this a column is not taken for a field
FAINT = 0.3
_NUMERIC = frozenset([WIDTH, CABLES, LENGTH, POSITION, LOSS, FREQUENCY, TEMPERATURE])
# what tells that a column is the one field that a sheet cannot do without, where its heading does not
_FROM_CELLS = 0.4


@dataclass(frozen=True)
class SheetColumn:
    """One column of a table: where it stands, its heading, what kind of heading that is, and its cells."""

    index: int
    heading: str
    heading_kind: Heading
    cells: Profile

    @property
    def plain(self):
        return plain_heading(self.heading)


def columns_of(sheet, place):
    """The SheetColumns that have a heading or cells."""
    headings, header = headings_of(sheet, place.header_row), place.header_row
    found = []
    for index, heading in enumerate(headings):
        cells = profile_of(sheet, index, place.first_row, place.end_row)
        if heading or cells:
            own = "" if header is None else sheet.texts[header, index].strip()
            kind = Heading.OTHER if header is None else kind_of_heading(own, sheet.kinds[header, index])
            found.append(SheetColumn(index, heading, kind, cells))
    return found


def fit(column, name, kind, known):
    """How well the column fits this field of a kind of sheet; at most FAINT where it is no guess worth making."""
    named = heading_fits(column.plain)
    if name == POSITION and SEGMENT in named and not column.cells.counts_anew:
        return 0.0
    by_heading = named.get(name, 0)
    return by_heading + _by_cells(column.cells, name, kind, known) if by_heading else 0.0


def fits_of(column, kind, known):
    """{field: fit} of those fields of a kind that the column may be."""
    fits = {name: fit(column, name, kind, known) for name in FIELDS[kind]}
    return {name: value for name, value in fits.items() if value > FAINT}


def _by_cells(cells, name, kind, known):
    """What the cells speak for or against a field that the heading names."""
    if not cells:
        return 0.0
    if name in DAY_FIELDS:
        return 0.3 if cells.days > 0.3 else -0.5 if cells.numbers + cells.yes_or_no > 0.9 else 0.0
    if name in _NUMERIC:
        return 0.2 if cells.numbers > 0.6 else -0.5
    if name == WET:
        return 0.3 if cells.yes_or_no > 0.6 else -0.2
    if name == MATS:
        return 0.3 if cells.lists > 0.2 else -0.2
    return _of_codes(cells, name, kind, known)


def _of_codes(cells, name, kind, known):
    if name == MAT:
        told = 0.2 * (cells.distinct > 0.9) if kind == SheetKind.MATS else 0.0
        return told + 0.4 * cells.known(known.mats) - 0.8 * (cells.lists > 0.2) - 0.6 * (cells.full_days > 0.5)
    if name == SEGMENT:
        return 0.4 * cells.known(known.segments) + 0.1 * (cells.distinct > 0.9)
    # a build may be called by its width, as 3m
    is_figures = cells.decimals > 0.6 and name != BUILD
    return -0.3 if cells.full_days > 0.6 or is_figures else 0.0


def fit_by_cells(column, name, known):
    """How well the cells alone tell that a column is a field that the sheet needs; 0 where they do not."""
    cells = column.cells
    told = {
        MAT: cells.known(known.mats),
        SEGMENT: cells.known(known.segments),
        MATS: cells.lists,
        STARTS: cells.full_days,
        LOSS: cells.decimals,
    }
    return _FROM_CELLS * told[name] if told.get(name, 0) > 0.7 else 0.0
