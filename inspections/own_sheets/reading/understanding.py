"""From the sheets of a keeper to tables of our layouts, by what somebody said that their columns mean."""

from ..meanings import FIELD_WORDS, SheetKind
from ..understood import Understood
from .cable_sheets import cables_by_mat, place_cables, read_cables
from .calendar_sheets import read_calendar
from .event_sheets import read_events, read_mats_and_events
from .hanging import what_hangs
from .known_selectors import KnownPool
from .made_cables import make_cables, withdraw_what_came_out
from .making import Making
from .mat_designs import settle_designs
from .mat_sheets import read_mats
from .orphans import drop_orphans
from .reading_sheets import add_readings, note_first_days, read_readings, read_wide
from .sheet_rows import SheetRows


def understand(workbook, meanings, mended, *, on, known=None):
    """What the sheets say, as `Understood`.

    `mended`: {(sheet, row, column): text} in place of cells; of a heading too. `on`: the day on which the file came.
    `known`: the KnownPool that the sheets are held against, by which codes that were made before are found again.
    """
    making = Making(known or KnownPool(), on)
    sheets = {sheet.name: sheet for sheet in workbook.sheets}
    taken = [meaning for meaning in meanings if meaning.is_taken and meaning.sheet in sheets]
    rows = [
        SheetRows(sheets[meaning.sheet], meaning, mended, making) for meaning in taken if _is_whole(meaning, making)
    ]
    readings = _read_register(rows, making)
    _read_log(rows)
    add_readings(readings, making)
    withdraw_what_came_out(making)
    drop_orphans(making)
    unread = sorted(making.unread.values(), key=lambda each: (list(sheets).index(each.sheet), each.row, each.column))
    tables, origins = making.rows.tables(workbook), making.rows.origins
    return Understood(tables, origins, unread, making.assumed, making.rough, what_hangs(rows, making, origins))


def _is_whole(meaning, making):
    """Whether it has the columns that its kind needs; what it lacks is listed, at its headings."""
    for group in meaning.missing:
        words = " or ".join(FIELD_WORDS[name] for name in group)
        making.leave_unread(meaning.sheet, meaning.header_row or 0, 0, "", f"a column that says: {words}")
    return not meaning.missing


def _of(rows, kind):
    return [each for each in rows if each.meaning.kind == kind]


def _read_register(rows, making):
    """Mats, their designs and their cables; returns the SaidReadings, which may be older than what is known."""
    mats, cables = {}, []
    for each in _of(rows, SheetKind.MATS):
        mats |= read_mats(each, making, mats)
    for each in _of(rows, SheetKind.CABLES):
        cables += read_cables(each)
    settle_designs(mats, cables_by_mat(cables), making)
    readings = [reading for each in _of(rows, SheetKind.READINGS) for reading in read_readings(each)]
    readings += [reading for each in _of(rows, SheetKind.READINGS_WIDE) for reading in read_wide(each)]
    note_first_days(readings, making)
    place_cables(cables, making)
    make_cables(mats, making)
    return readings


def _read_log(rows):
    for each in _of(rows, SheetKind.EVENTS):
        read_events(each)
    for each in _of(rows, SheetKind.MAT_AND_EVENT):
        read_mats_and_events(each)
    for each in _of(rows, SheetKind.CALENDAR):
        read_calendar(each)
