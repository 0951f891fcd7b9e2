"""Days of one sheet: the order of their numbers is one for the sheet, and so is the year that they leave out."""

import re
from datetime import timedelta

from fleet.parsing.day_orders import order_in
from fleet.parsing.day_spans import read_day_span
from fleet.parsing.rough_days import read_rough_day

from . import meanings as field
from .sheet_texts import told_year

_LONG_BEFORE = timedelta(days=800)
_HAS_YEAR = re.compile(r"(?<!\d)\d{4}(?!\d)|'\d{2}|[-/.]\d{2}$|[^\W\d_] \d{2}$")


class SheetDays:
    def __init__(self, rows):
        self.on = rows.making.on
        self.order = rows.meaning.day_order or order_in(_day_texts(rows))
        self.year = rows.meaning.answers.get("year") or told_year(rows.sheet, rows.meaning, "")

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
            with_year = self._with_year(text)
            if with_year is None:
                raise ValueError(expected_of(refused)) from refused
        try:
            return reader(with_year, self.on, self._order_of(text))
        except ValueError as refused:
            raise ValueError(expected_of(refused)) from refused

    def _order_of(self, text):
        """Between dots the day stands first, whatever else the sheet holds."""
        return self.order or ("day first" if "." in text else "")

    def _with_year(self, text):
        """The text with the year that it leaves out; None where it has one, or the sheet says none."""
        if not self.year or _HAS_YEAR.search(text):
            return None
        bare = text.strip()
        if bare.endswith("."):
            return f"{bare}{self.year}"
        return f"{bare}/{self.year}" if re.search(r"\d/\d{1,2}$", bare) else f"{bare} {self.year}"


def expected_of(refused):
    """What to write in place of what was refused, without the sentence that names the cell again."""
    sentence = str(refused)
    _, colon, ask = sentence.rpartition(": write ")
    return f"write {ask}".removesuffix(".") if colon else sentence.removesuffix(".")


def _day_texts(rows):
    columns = [column.index for column in rows.meaning.columns if column.field in field.DAY_FIELDS]
    return [rows.text(row, column) for row in rows.meaning.rows for column in columns]
