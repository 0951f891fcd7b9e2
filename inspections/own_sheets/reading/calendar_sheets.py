"""Calendars: mats down, days, weeks or months across, and in the cell a mark, a number, or what the event was called.

A mark below a month says how often a mat went in it, as somebody remembers: usual use, which gives way to events that
are logged. A mark below a day or a week is an event without a name.
"""

import re

from fleet.choices import NoteAbout, UsageBasis, UsageState
from fleet.intake.files import EVENTS
from fleet.models.usage import USUAL_USE
from fleet.months import MIDDLE_OF_MONTH
from fleet.parsing.approximate_dates import ApproximateDate, span_in_words
from fleet.parsing.log_words import plain, read_state, read_yes_no
from fleet.parsing.whole_numbers import read_whole
from fleet.validators import NAME_LENGTH

from .. import meanings as field
from ..understood import Assumption
from .event_sheets import SaidEvent, add_use, middle_of
from .mat_sheets import known_mat
from .rows import as_middle, on_one_line

# one mark an event, as xx for two
_MARKS = re.compile(r"([x×✓✔•*])(?:[ ,+]*\1)+")
WHEN = "the day, week or month of this column, such as 3 May 2026 or May 2026"


def read_calendar(rows):
    spans = _spans(rows)
    merged = _merged_across(rows.sheet.merged)
    for row in rows:
        mat = known_mat(row)
        if mat is None:
            continue
        for column, span in spans.items():
            if text := row.cell(column):
                last = spans.get(merged.get((row.number, column)), span)
                _read_cell(row, mat, text, ApproximateDate(span.first, last.last))
        for text in row.notes:
            rows.making.note(NoteAbout.MAT, mat.number, text, row.place)


def _spans(rows):
    """{column: ApproximateDate} of the headings; one that cannot be read is listed."""
    found = {}
    for column in rows.meaning.indexes_of(field.USE_BY_HEADING):
        try:
            found[column] = _span(rows, rows.heading(column))
        except ValueError:
            rows.leave_unread(rows.head, column, WHEN, rows.heading(column))
    return found


def _span(rows, heading):
    """What stands behind a day, as the title of all columns, says nothing."""
    try:
        return rows.days.read(heading)
    except ValueError:
        words = heading.split()
        if len(words) < 2 or any(c.isdecimal() for c in words[-1]):
            raise
        return _span(rows, " ".join(words[:-1]))


def _merged_across(merged):
    """{(row, first column): last column} of cells that were merged over several columns."""
    return {(top, left): right for top, left, _bottom, right in merged if right > left}


def _read_cell(row, mat, text, span):
    times, name = _said(text)
    if not times and not name:
        return
    if not name and _is_month(span):
        _add_usual(row, mat, times, span)
        return
    event = _event(row, name or f"Out, {span_in_words(span)}", name and text, span)
    add_use(row, event, mat.number, counts_for=times if times > 1 else None)


def _said(text):
    """(how many times, what the event was called): once a mark; nothing of what says that it stayed at home."""
    if _MARKS.fullmatch(marks := plain(text)):
        return marks.count(marks[0]), ""
    number = read_whole(plain(text).removesuffix("x").removesuffix("×"))
    if number is not None:
        return number, ""
    try:
        return int(read_yes_no(text)), ""
    except ValueError:
        pass
    try:
        return int(read_state(text) != UsageState.CALLED_OFF), ""
    except ValueError:
        return 1, on_one_line(text)[:NAME_LENGTH]


def _is_month(span):
    return not span.exact and (span.last - span.first).days >= 27


def _event(row, name, said, span):
    """The event of a cell: on the days that its heading names where it names few, else on their middle."""
    making = row.rows.making
    day = middle_of(span, making.on)
    long = (span.last - span.first).days >= 6
    first, last = (day, day) if long else (span.first, span.last)
    code, _ = making.register.event(name, first, last)
    making.add(EVENTS.file, {"event": code, "name": name, "starts_on": first, "ends_on": last}, row.place)
    if long and said:
        making.note(NoteAbout.EVENT, code, as_middle("Day", span_in_words(span)), row.place)
    if long:
        making.roughly(field.USE_BY_HEADING, span_in_words(span), span, day, name, noted=bool(said))
    return SaidEvent(code, first, last)


def _add_usual(row, mat, times, span):
    """Usual use is never planned: what lies ahead is left out."""
    making = row.rows.making
    if span.first > making.on:
        making.assume(Assumption.LEFT_OUT, f"{mat.number}, {span_in_words(span)}")
        return
    middle = span.first.replace(day=MIDDLE_OF_MONTH)
    day = middle if middle <= making.on else span.first
    code, _ = making.register.event(USUAL_USE, day, day)
    making.add(EVENTS.file, {"event": code, "name": USUAL_USE, "starts_on": day, "ends_on": day}, row.place)
    add_use(row, SaidEvent(code, day, day), mat.number, counts_for=times, basis=UsageBasis.USUAL)
    making.assume(Assumption.USUAL, mat.number)
