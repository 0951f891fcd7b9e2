"""Days of one sheet: the order of their numbers is one for the sheet, and so is the year that they leave out."""

import re
from datetime import timedelta

from fleet.parsing.day_orders import order_in
from fleet.parsing.day_spans import read_day_span
from fleet.parsing.rough_days import read_rough_day

from .. import meanings as field
from .sheet_texts import told_year

_LONG_BEFORE = timedelta(days=800)
_HAS_YEAR, _DAY_AND_MONTH = re.compile(r"(?<!\d)\d{4}(?!\d)"), re.compile(r"\d/\d{1,2}$")
# of what is told of mats and cables any year may be meant, whatever the sheet is called
_OF_ANY_YEAR = (field.SheetKind.MATS, field.SheetKind.CABLES)


class SheetDays:
    def __init__(self, rows):
        self.on = rows.making.on
        self.order = rows.meaning.day_order or order_in(_day_texts(rows))
        told = rows.meaning.answers.get("year") or told_year(rows.sheet, rows.meaning, "")
        self.year = "" if rows.meaning.kind in _OF_ANY_YEAR else told

    def read(self, text):
        """The ApproximateDate of a text; ValueError with what to write."""
        return self._read(text, read_rough_day)

    def read_span(self, text):
        """As `read`, or (first, last) of several days."""
        return self._read(text, read_day_span)

    def is_relative(self, text):
        """Whether it says only how long ago it was, and so another day each time that the file comes."""
        try:
            return read_rough_day(text, self.on) != read_rough_day(text, self.on - _LONG_BEFORE)
        except ValueError:
            return False

    def _read(self, text, reader):
        try:
            return reader(text, self.on, self._order_of(text))
        except ValueError as refused:
            found = self._with_year(text, reader)
            if found is None:
                raise ValueError(expected_of(refused)) from refused
            return found

    def _with_year(self, text, reader):
        """What the text says with the year that it leaves out; None where it has one, or the sheet says none."""
        bare = text.strip()
        if not self.year or _HAS_YEAR.search(bare):
            return None
        joint = "" if bare.endswith(".") else "/" if _DAY_AND_MONTH.search(bare) else " "
        try:
            return reader(f"{bare}{joint}{self.year}", self.on, self._order_of(text))
        except ValueError:
            return None

    def _order_of(self, text):
        """Between dots the day stands first, whatever else the sheet holds."""
        return self.order or ("day first" if "." in text else "")


def expected_of(refused):
    """What to write in place of what was refused, without the sentence that names the cell again."""
    sentence = str(refused)
    _, colon, ask = sentence.rpartition(": write ")
    return f"write {ask}".removesuffix(".") if colon else sentence.removesuffix(".")


def _day_texts(rows):
    columns = [column.index for column in rows.meaning.columns if column.field in field.DAY_FIELDS]
    return [rows.text(row, column) for row in rows.meaning.rows for column in columns]
