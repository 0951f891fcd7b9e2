"""Sheets of readings: a row each reading, or a column each position or day."""

import re
from dataclasses import dataclass
from datetime import date

from django.core.exceptions import ValidationError

from fleet.choices import FittedBasis
from fleet.models.fields import code_key
from fleet.parsing.approximate_dates import ApproximateDate
from fleet.parsing.log_words import plain

from ...files.sets import INSTRUMENTS, MEASUREMENTS
from ...numeric.words import InstrumentKind
from ...validators import NO_SIGNAL, parse_loss
from .. import meanings as field
from ..understood import Assumption
from .made_cables import earlier_cable
from .mat_sheets import known_mat
from .rows import as_middle
from .sheet_rows import ITS_POSITION, SheetRow, read_position

# beside those that the bench takes
_NO_SIGNAL = {"kein signal", "kein", "kein durchgang", "nein", "offen"}
LOSS = "a loss in dB such as 1.31, or no for no signal"
WORD = "a number of dB, or beside it an instrument that is on record as a go/no-go tester"
DAY = "the day of this reading, such as 3 May 2026"
CABLE = "a cable that is on record: its serial, or its mat and position"
POSITION_OR_DAY = "a position, such as 3, or the day of its readings"
_NUMBERED = re.compile(r".*\d\.?(?=\s|$)")
_GIGA = re.compile(r"(.*\d) ?ghz", re.IGNORECASE)


@dataclass(frozen=True)
class SaidReading:
    """A reading of a sheet. `column` is that of its loss; `serial` "" where its mat and position name the cable."""

    row: SheetRow
    column: int
    serial: str
    mat: str
    position: int | None
    span: ApproximateDate
    day: date
    loss: str


def read_readings(rows):
    """SaidReadings of a sheet with a row each; what names no cable or no day is listed."""
    mat = ""
    for row in rows:
        serial, mat = _cable_of(row, mat)
        if row.is_unread(field.SEGMENT):
            continue
        loss, position = _loss(row, row.column(field.LOSS)), row.position(field.POSITION)
        if loss and _names_cable(row, serial, mat, position) and (span := _day_of(row)):
            yield _reading(row, row.column(field.LOSS), serial, mat, position, span, loss)


def read_wide(rows):
    """SaidReadings of a sheet with a column each position or day."""
    heads = {column: _head(rows, column) for column in rows.meaning.indexes_of(field.LOSS_BY_HEADING)}
    mat = ""
    for row in rows:
        serial, mat = _cable_of(row, mat)
        if row.is_unread(field.SEGMENT):
            continue
        for column, (position, span) in heads.items():
            loss = (position or span) and _loss(row, column)
            place = position or (row.position(field.POSITION) if loss else None)
            if loss and _names_cable(row, serial, mat, place) and (span := span or _day_of(row)):
                yield _reading(row, column, serial, mat, place, span, loss)


def _reading(row, column, serial, mat, position, span, loss):
    return SaidReading(row, column, serial, mat, position, span, span.middle(row.rows.making.on), loss)


def _head(rows, column):
    """(position, ApproximateDate) of a heading: one of them, or both as in `P1 2024-05-03`."""
    heading = without_title(rows.heading(column))
    for at in range(len(words := heading.split()) + 1):
        position, span = _position(" ".join(words[:at])), _span(rows, " ".join(words[at:]))
        if (position or not words[:at]) and (span or not words[at:]) and (position or span):
            return position, span
    rows.leave_unread(rows.head, column, POSITION_OR_DAY, heading)
    return None, None


def without_title(heading):
    """`3` of `3 Loss in dB`: what stands behind the last number tells neither position nor day."""
    numbered = _NUMBERED.match(heading)
    return numbered[0] if numbered else heading


def _position(text):
    try:
        return read_position(text)
    except ValueError:
        return None


def _span(rows, text):
    try:
        span = rows.days.read(text) if text else None
    except ValueError:
        return None
    return span if span and span.first <= rows.making.on else None


def _cable_of(row, above):
    """(serial, mat) of a row; the mat above stands for it where it leaves its own out."""
    serial = row.text(field.SEGMENT)
    if not row.text(field.MAT):
        return serial, "" if serial else above
    mat = known_mat(row)
    return serial, mat.number if mat else ""


def _names_cable(row, serial, mat, position):
    if serial or (mat and position):
        return True
    if mat:
        row.lacks(field.POSITION, ITS_POSITION, field.MAT)
    elif not row.text(field.MAT):
        row.lacks(field.SEGMENT, CABLE, field.MAT)
    return False


def _loss(row, column):
    """The loss as our files write it; None for an empty cell, and for one that is listed."""
    text = row.cell(column)
    if not text:
        return None
    if plain(text) in _NO_SIGNAL:
        return NO_SIGNAL
    try:
        typed = parse_loss(text)
    except ValidationError:
        return row.rows.leave_unread(row.number, column, LOSS)
    if typed.go_no_go and not _reads_words(row):
        return row.rows.leave_unread(row.number, column, WORD)
    return typed.go_no_go or (NO_SIGNAL if typed.no_signal else f"{typed.loss_db:.12g}")


def _reads_words(row):
    """Whether its instrument is on record as a go/no-go tester, which shows no number."""
    kinds = row.rows.making.register.instrument_kinds
    return kinds.get(code_key(row.text(field.INSTRUMENT))) == InstrumentKind.GO_NO_GO


def _day_of(row):
    """The ApproximateDate of a row; of the whole sheet where it has no such column and somebody said."""
    if row.column(field.DAY) is not None:
        span = row.past_day(field.DAY)
        if span is None:
            row.unread(field.DAY, DAY)
        return span
    return _day_of_sheet(row.rows)


def _day_of_sheet(rows):
    """Asked once, at the heading of the mats or cables."""
    column = next(index for name in (field.MAT, field.SEGMENT) if (index := rows.meaning.index_of(name)) is not None)
    said = rows.mended(rows.head, column) or rows.meaning.answers.get("day", "")
    span = _span(rows, said)
    if span is None:
        rows.leave_unread(rows.head, column, "the day of these readings, such as 3 May 2026", said)
    return span


def note_first_days(said, making):
    """When a cable was first read in each place, before cables of unknown age get their day."""
    for reading in said:
        key = code_key(reading.serial) if reading.serial else (reading.mat, reading.position)
        making.first_read[key] = min(reading.day, making.first_read.get(key, reading.day))


def add_readings(said, making):
    """Rows of readings, each of the cable that was there on its day; repeats of a day in the order of the sheet."""
    counted = {}
    for reading in sorted(said, key=lambda each: each.day):
        serial = _serial_of(reading, making)
        if serial is None:
            continue
        key = code_key(serial), reading.day
        counted[key] = counted.get(key, 0) + 1
        _add(reading, serial, reading.row.whole(field.REPEAT) or counted[key], making)


def _serial_of(reading, making):
    register, row = making.register, reading.row
    if reading.serial:
        cable = register.cable(reading.serial)
        if cable is None:
            row.unread(field.SEGMENT, CABLE)
        return cable and cable.serial
    stay = register.stay_on(reading.mat, reading.position, reading.day)
    after = register.stay_after(reading.mat, reading.position, reading.day)
    if stay is None and after and after.basis == FittedBasis.NOT_LATER_THAN:
        making.assume(Assumption.SAME_CABLES, reading.mat)
        stay = after
    if stay:
        return stay.serial
    serial = earlier_cable(reading.mat, reading.position, reading.day, row.place, making)
    if serial is None:
        expected = f"a cable on record in mat {reading.mat}, position {reading.position}, on {reading.day}"
        row.rows.leave_unread(row.number, reading.column, expected)
    return serial


def _add(reading, serial, repeat, making):
    row = reading.row
    values = {"segment": serial, "measured_on": reading.day, "repeat": repeat, "loss_db": reading.loss}
    values |= {"frequency_mhz": _frequency(row), "temperature_c": row.measure(field.TEMPERATURE, "°C")}
    values |= {"instrument": _instrument(row, making), "measured_by": row.text(field.MEASURED_BY)}
    notes = row.notes
    if not reading.span.exact:
        notes.append(as_middle("Day", row.text(field.DAY)))
        making.roughly(field.DAY, row.text(field.DAY), reading.span, reading.day, serial)
    values["note"] = ". ".join(notes)
    columns = row.columns(segment=field.SEGMENT, measured_on=field.DAY, instrument=field.INSTRUMENT)
    making.add(MEASUREMENTS.file, values, row.place, columns | {"loss_db": reading.column})


def _frequency(row):
    giga = _GIGA.fullmatch(row.text(field.FREQUENCY))
    if giga:
        return row.read(field.FREQUENCY, lambda text: 1000 * float(giga[1].replace(",", ".")))
    return row.measure(field.FREQUENCY, "MHz")


def _instrument(row, making):
    """The name as the pool writes it; a new one has the uncertainty that the pool gives to those that say nothing."""
    name, known = row.code(field.INSTRUMENT), making.register.instruments
    if name and code_key(name) not in known:
        known[code_key(name)] = name
        uncertainty = {"instrument": name, "standard_uncertainty_db": making.register.known.reading_uncertainty_db}
        making.add(INSTRUMENTS.file, uncertainty, row.place)
        making.assume(Assumption.INSTRUMENT, name)
    return known[code_key(name)] if name else None
