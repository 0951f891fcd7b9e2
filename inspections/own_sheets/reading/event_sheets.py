"""Sheets of events: a row each event with its mats in one cell, or a row each mat and event."""

from dataclasses import dataclass
from datetime import date

from fleet.choices import NoteAbout, UsageState, Weather
from fleet.intake.files import EVENTS, USAGE
from fleet.limits import LONGEST_EVENT_DAYS
from fleet.parsing.log_words import WET, read_state, read_weather, read_yes_no
from fleet.parsing.number_lists import read_list
from fleet.validators import CODE_LENGTH, NAME_LENGTH

from .. import meanings as field
from ..understood import Assumption
from .mat_sheets import which_mat
from .rows import as_middle, on_one_line

DAY = "the day of the event, such as 3 May 2026"
_COLUMNS = {"event": field.CODE, "name": field.EVENT, "starts_on": field.STARTS, "ends_on": field.ENDS}
_COLUMNS |= {"place": field.PLACE, "weather": field.WEATHER}


@dataclass(frozen=True)
class SaidEvent:
    code: str
    starts_on: date
    ends_on: date


def read_events(rows):
    """The rows of events, and of the mats that went to them."""
    for row in rows:
        event = read_event(row)
        if event:
            for mat in _mats_in(row, field.MATS, event):
                add_use(row, event, mat)


def read_mats_and_events(rows):
    """As `read_events`; a row that names no event belongs to the one above it."""
    event = None
    for row in rows:
        says_which = any(row.text(name) for name in (field.EVENT, field.CODE, field.STARTS, field.PLACE))
        event = read_event(row) if says_which else event
        if event is None:
            continue
        for mat in _mats_in(row, field.MAT, event):
            add_use(row, event, mat)


def read_event(row):
    """The SaidEvent of a row, whose row of ours is added; None where it has no day that can be read."""
    making, code = row.rows.making, row.text(field.CODE)
    span = row.read(field.STARTS, row.rows.days.read_span)
    days = None if span is None else _days(row, span)
    known = making.register.event_of_code(code) if code else None
    if days is None:
        return SaidEvent(*known) if known and not row.text(field.STARTS) else _ask_day(row)
    name = on_one_line(row.text(field.EVENT) or row.text(field.PLACE) or code)[:NAME_LENGTH]
    if not name:
        return row.lacks(field.EVENT, "what the event is called", field.STARTS)
    code = _code(row, code, name, *days)
    event = code and _add(row, SaidEvent(code, *days), name)
    if event:
        _note_rough_day(row, event, name, span)
        for text in row.notes:
            making.note(NoteAbout.EVENT, event.code, text, row.place)
    return event


def _ask_day(row):
    return row.lacks(field.STARTS, DAY, field.EVENT if row.column(field.EVENT) is not None else field.CODE)


def _days(row, span):
    """(first, last) day of the event; of a rough one twice its middle. `span`: its day, or these two, as they stand."""
    if isinstance(span, tuple):
        return span
    first = middle_of(span, row.rows.making.on)
    last = row.day(field.ENDS)
    if last is None or not span.exact:
        return first, first
    if last.last < first or (last.last - first).days >= LONGEST_EVENT_DAYS:
        row.unread(field.ENDS, f"a day from the first of the event on, {first}, and within a year of it")
        return first, first
    return first, last.first if last.exact else first


def middle_of(span, on):
    """The day that stands for a rough one, which may lie ahead."""
    return span.middle(span.last if span.first > on else on)


def _code(row, code, name, first, last):
    """The code as it is said, else that of the event of this name and these days; None for one that is no code."""
    register = row.rows.making.register
    if not code:
        return register.event(name, first, last)[0]
    code = on_one_line(code).replace("/", "-")
    if len(code) > CODE_LENGTH:
        return row.unread(field.CODE, f"a code of at most {CODE_LENGTH} characters")
    known = register.event_of_code(code)
    if known and known[1:] != (first, last) and row.rows.making.rows.has(EVENTS.file, event=known[0]):
        # a code that several events of a sheet have is that of their kind
        return register.event(name, first, last)[0]
    if not known:
        register.add_event(code, name, first, last)
    return known[0] if known else code


def _add(row, event, name):
    making = row.rows.making
    values = {"event": event.code, "name": name, "starts_on": event.starts_on, "ends_on": event.ends_on}
    values |= {"place": on_one_line(row.text(field.PLACE))[:NAME_LENGTH], "weather": _weather(row)}
    return event if making.add(EVENTS.file, values, row.place, row.columns(**_COLUMNS)) else None


def _note_rough_day(row, event, name, span):
    if not isinstance(span, tuple) and not span.exact:
        making, said = row.rows.making, row.text(field.STARTS)
        making.note(NoteAbout.EVENT, event.code, as_middle("Day", said), row.place)
        making.roughly(field.STARTS, said, span, event.starts_on, name)


def _weather(row):
    weather = row.read(field.WEATHER, read_weather)
    if not weather:
        weather = row.read(field.WET, _read_wet)
        if weather == WET:
            row.rows.making.assume(Assumption.WET, row.place)
    elif weather == WET and "wet" in row.text(field.WEATHER).casefold():
        row.rows.making.assume(Assumption.WET, row.place)
    return weather or None


def _read_wet(text):
    """The Weather of a column that asks for a tick, or names it all the same."""
    try:
        return WET if read_yes_no(text) else Weather.DRY
    except ValueError:
        return read_weather(text)


def _mats_in(row, name, event):
    """The numbers of the mats that a cell names; what names none is listed."""
    text, making = row.text(name), row.rows.making
    if not text:
        return []
    listed = making.register.mats_in(text, event.starts_on)
    if says_all(text):
        return _all_mats(making, listed, event)
    if (listed.unknown and not which_mat(row, name, text)) or listed.withdrawn:
        row.unread(name, _why_not(listed))
    for note in listed.left_out:
        making.note(NoteAbout.EVENT, event.code, note, row.place)
    return [mat.number for mat in listed.mats]


def says_all(text):
    return any(part.is_all for part in read_list(text).parts)


def _all_mats(making, listed, event):
    """*All* were those that there were then; of an event on record those that are on record with it."""
    if event.code in making.register.with_uses:
        return []
    mats = [making.register.mat(mat.number) for mat in listed.mats]
    return [mat.number for mat in mats if mat.since is None or mat.since <= event.ends_on]


def _why_not(listed):
    if listed.excepting:
        return "only the numbers that went"
    said = [f"not on record: {', '.join(listed.unknown)}"] if listed.unknown else []
    if listed.withdrawn:
        said.append(f"out of use by then: {', '.join(mat.number for mat in listed.withdrawn)}")
    return f"mats that are on record ({', and '.join(said)})"


def _columns_of_use(row):
    columns = row.columns(mat=field.MAT, state=field.STATE, counts_for=field.COUNTS_FOR)
    several = row.column(field.MATS)
    return columns if several is None else columns | {"mat": several}


def add_use(row, event, mat, *, counts_for=None, basis=None):
    """A row of use; *went* where the event is over and nobody said otherwise, *planned* where it is not."""
    making = row.rows.making
    state = row.read(field.STATE, read_state)
    over = event.ends_on <= making.on
    if state is None:
        # where nobody says, what is on record stays
        state = making.register.known.uses.get((event.code, mat))
    if state is None or (state == UsageState.WENT and not over):
        state = UsageState.WENT if over else UsageState.PLANNED
    values = {"event": event.code, "mat": mat, "state": state, "basis": basis}
    values["counts_for"] = counts_for or row.whole(field.COUNTS_FOR)
    making.add(USAGE.file, values, row.place, _columns_of_use(row))
