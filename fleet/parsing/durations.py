"""Times of years and months, as people write them and as pages do: `2.5`, `2 years 6 months`, `1 y 3 m`, `8 months`."""

import re

from ..months import MONTHS_A_YEAR
from .counts import counted

# what a decimal number of years falls short of its month
_ROUNDING = 1e-6
_NUMBER = r"(\d{1,6}(?:[.,]\d{1,17})?|\d{1,3}/\d{1,3})"
_YEARS = re.compile(rf"{_NUMBER} ?(?:years?|yrs?|y)?")
_MONTHS = re.compile(rf"{_NUMBER} ?(?:months?|mths?|mos?|m)")
_BOTH = re.compile(rf"{_NUMBER} ?(?:years?|yrs?|y)(?:,| and)? ?{_NUMBER} ?(?:months?|mths?|mos?|m)")


def read_months(text):
    """The months that a time lasts; a number without a unit is years. Whole, rounded down, but for a part of a month.

    ValueError for what is no such time.
    """
    plain = " ".join(text.lower().split())
    if found := _BOTH.fullmatch(plain):
        months = MONTHS_A_YEAR * _number(found[1]) + _number(found[2])
    elif found := _MONTHS.fullmatch(plain):
        months = _number(found[1])
    elif found := _YEARS.fullmatch(plain):
        months = MONTHS_A_YEAR * _number(found[1])
    else:
        raise ValueError(text)
    return int(months + _ROUNDING) or months


def months_in_words(months):
    """3 years, 1 year 6 months, 8 months."""
    years, rest = divmod(months, MONTHS_A_YEAR)
    parts = [counted(years, "year")] if years else []
    return " ".join([*parts, counted(rest, "month")] if rest or not years else parts)


def _number(text):
    whole, _, part = text.partition("/")
    if not part:
        return float(text.replace(",", "."))
    if int(part) == 0:
        raise ValueError(text)
    return int(whole) / int(part)
