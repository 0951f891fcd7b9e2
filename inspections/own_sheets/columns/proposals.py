"""What the sheets of a keeper likely mean: by their headings, their cells, and by what was said of such a sheet."""

from dataclasses import replace

from fleet.parsing.day_orders import order_in

from ..meanings import (
    DAY,
    EVENT,
    FIELDS,
    LOSS,
    LOSS_BY_HEADING,
    MAT,
    MATS,
    NEEDED,
    OF_MANY,
    SEGMENT,
    USE_BY_HEADING,
    ColumnMeaning,
    SheetKind,
    SheetMeaning,
)
from ..reading.sheet_texts import day_texts, told_year
from .column_fits import FAINT, columns_of, fit_by_cells, fits_of
from .heading_words import heading_fits, is_summary, plain_heading
from .kept_shapes import kept_meaning
from .table_places import find_table
from .wide_headings import FEWEST, Heading

# a sheet that lacks a field it needs is proposed only where so much else of it is known
ENOUGH = 2.0
_BY_NAME = {
    MAT: SheetKind.MATS,
    MATS: SheetKind.MATS,
    SEGMENT: SheetKind.CABLES,
    EVENT: SheetKind.EVENTS,
    LOSS: SheetKind.READINGS,
}
_WORTH_OF_NAME, _WORTH_OF_WIDE = 0.6, 1.6
# share of decimals from which cells below days or positions are losses and no marks
_LOSSES = 0.3


def propose(workbook, kept, known):
    """A SheetMeaning for each sheet. `kept`: {shape: what was said of it} (`kept_shapes`); `known`: KnownCodes."""
    return with_orders(workbook, [_proposed(sheet, workbook, kept, known) for sheet in workbook.sheets])


def _proposed(sheet, workbook, kept, known):
    said = kept_meaning(sheet, kept)
    found = said or propose_sheet(sheet, find_table(sheet), known)
    year = told_year(sheet, found, workbook.file)
    return found.with_answers(year=year) if year else found


def with_orders(workbook, meanings):
    """The meanings with the order of days: as their cells tell, else as it was said."""
    told = order_in(day_texts(workbook, meanings))
    said = told or next((meaning.day_order for meaning in meanings if meaning.day_order), told)
    return [replace(meaning, day_order=said) for meaning in meanings]


def propose_sheet(sheet, place, known, kind=None):
    """The likely meaning of a sheet whose table stands there: of this kind, else of the kind that fits best."""
    columns = columns_of(sheet, place)
    found = {each: _assigned(columns, each, known) for each in ([kind] if kind else SheetKind)}
    best = kind or _best_kind(sheet, found)
    chosen = tuple(ColumnMeaning(index, name) for index, (name, _) in sorted(found[best].items()))
    return SheetMeaning(sheet.name, best, place.header_row, place.first_row, place.end_row, chosen)


def _best_kind(sheet, found):
    """The kind whose fields explain most of the sheet; LEFT_OUT where none does, and of hidden sheets and summaries."""
    if sheet.hidden or is_summary(plain_heading(sheet.name)):
        return SheetKind.LEFT_OUT
    worth = {kind: _worth(sheet, kind, assigned) for kind, assigned in found.items() if kind != SheetKind.LEFT_OUT}
    best = max(worth, key=worth.get)
    return best if worth[best] > 0 else SheetKind.LEFT_OUT


def _worth(sheet, kind, assigned):
    names = {name for name, _ in assigned.values()}
    worth = sum(value for name, value in assigned.values() if name not in OF_MANY)
    worth += _WORTH_OF_WIDE if names & {LOSS_BY_HEADING, USE_BY_HEADING} else 0
    lacking = [group for group in NEEDED[kind] if not names.intersection(group)]
    if (lacking and worth < ENOUGH) or len(lacking) == len(NEEDED[kind]):
        return 0
    named = _BY_NAME.get(max(fits, key=fits.get)) if (fits := heading_fits(plain_heading(sheet.name))) else None
    return worth - len(lacking) + (_WORTH_OF_NAME if kind == named else 0)


def _assigned(columns, kind, known):
    """{column: (field, fit)}: the best fitting pairs first, each field once.

    Of pairs that fit as well, a column that can be nothing else goes first, then as the kind lists its fields.
    """
    found = _wide(columns, kind)
    fits = {column.index: fits_of(column, kind, known) for column in columns if column.index not in found}
    pairs = [
        (-value, len(names), place, FIELDS[kind].index(name), name)
        for place, names in fits.items()
        for name, value in names.items()
    ]
    taken = set()
    for value, _, place, _, name in sorted(pairs):
        if place not in found and (name not in taken or name in OF_MANY):
            found[place] = (name, -value)
            taken.add(name)
    return found | _from_cells(columns, kind, found, known)


def _wide(columns, kind):
    """Columns under headings that are days or positions, where the kind has such."""
    if kind not in (SheetKind.READINGS_WIDE, SheetKind.CALENDAR):
        return {}
    days = [column for column in columns if column.heading_kind is Heading.DAY]
    positions = [column for column in columns if column.heading_kind is Heading.POSITION]
    many = max(days, positions, key=len)
    if len(many) < FEWEST or _are_losses(many) != (kind == SheetKind.READINGS_WIDE):
        return {}
    name = LOSS_BY_HEADING if kind == SheetKind.READINGS_WIDE else USE_BY_HEADING
    return {column.index: (name, 1.0) for column in many}


def _are_losses(columns):
    filled = [column for column in columns if column.cells]
    return bool(filled) and sum(column.cells.decimals for column in filled) > _LOSSES * len(filled)


def _from_cells(columns, kind, found, known):
    """Fields that the sheet needs and no heading names, where the cells of one column alone tell them."""
    more, names = {}, {name for name, _ in found.values()}
    wanted = [*NEEDED[kind], (MATS,)] if kind == SheetKind.EVENTS else [*NEEDED[kind]]
    wanted += [(DAY,)] if kind == SheetKind.READINGS else []
    for group in wanted:
        if names.intersection(group):
            continue
        fits = {
            (fit_by_cells(column, name, known), -column.index): name
            for column in columns
            if column.index not in found and column.index not in more
            for name in group
        }
        (value, place), name = max(fits.items(), default=((0, 0), ""))
        if value:
            more[-place] = (name, value)
    return more or _mats_beside_wide(columns, kind, found)


def _mats_beside_wide(columns, kind, found):
    """The first column beside days or positions, where it has no heading: whose days or positions they are."""
    first = columns[0] if columns else None
    if kind not in (SheetKind.READINGS_WIDE, SheetKind.CALENDAR) or first is None or first.heading:
        return {}
    return {first.index: (MAT, FAINT)} if found and first.index not in found and first.cells else {}
