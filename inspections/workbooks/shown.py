"""The text of a cell from the value in it and what its format shows of that."""

import datetime
import math
from decimal import Decimal

from .number_formats import Shows, code_of, shows
from .sheet import CellKind

# English, whatever the language of this computer: whoever reads them knows these words
MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)
# how a spreadsheet shows a number that has no place in its cell, such as a day before all days
UNSHOWN = ("#####", CellKind.ERROR)
NOT_CALCULATED = ("not calculated", CellKind.ERROR)
EMPTY = ("", CellKind.EMPTY)


def shown_text(text):
    """A text as it stands; one of blanks alone shows nothing."""
    return (text, CellKind.TEXT) if text.strip() else EMPTY


def shown_number(value, format_code=""):
    """Of a number that its file does not know as a day."""
    if not math.isfinite(value):
        return UNSHOWN
    what = shows(format_code)
    if what is Shows.CODE and (code := code_of(value, format_code)):
        return code, CellKind.TEXT
    if what in (Shows.NUMBER, Shows.CODE):
        return plain(value), CellKind.NUMBER
    return UNSHOWN


def plain(value):
    """A number in full precision, with a point and without a power of ten."""
    if value == int(value) and abs(value) < 1e15:
        return str(int(value))
    text = repr(float(value))
    return format(Decimal(text), "f") if "e" in text else text


def shown_day(moment, what=Shows.DAY_AND_TIME):
    """Of a date or datetime. Its time shows where its format shows one, unless it is midnight."""
    if what is Shows.TIME:
        return shown_time(_clock(moment))
    if what is Shows.MONTH:
        return f"{MONTHS[moment.month - 1]} {moment.year}", CellKind.MONTH
    if what is Shows.YEAR:
        return str(moment.year), CellKind.TEXT
    day, clock = f"{moment.year:04}-{moment.month:02}-{moment.day:02}", _clock(moment)
    if what is Shows.DAY_AND_TIME and clock:
        return f"{day} {shown_time(clock)[0]}", CellKind.DAY
    return day, CellKind.DAY


def _clock(moment):
    if isinstance(moment, datetime.datetime):
        return moment - datetime.datetime.combine(moment.date(), datetime.time())
    return datetime.timedelta()


def shown_time(duration):
    """`14:30`, `36:15`, and `0:00:12` where there are seconds, of a timedelta."""
    seconds = round(duration.total_seconds())
    sign, seconds = ("-", -seconds) if seconds < 0 else ("", seconds)
    hours, minutes, rest = seconds // 3600, seconds // 60 % 60, seconds % 60
    return f"{sign}{hours:02}:{minutes:02}" + (f":{rest:02}" if rest else ""), CellKind.TIME


def shown_yes_no(value):
    return ("yes" if value else "no"), CellKind.YES_NO
