"""Which of two numbers is the day where people write `5/3/26`: what a column of such texts tells, and what it does not.

Between dots the day stands first, as everywhere where dates have dots; between slashes and dashes either is written.
"""

import re
from enum import StrEnum

_NUMBERS = re.compile(r"(?<![\d/.-])(\d{1,2})([/-])(\d{1,2})\2(?:\d{4}|\d{2})(?!\d)")
_MONTHS = 12


class DayOrder(StrEnum):
    NOT_SAID = ""
    DAY_FIRST = "day first"
    MONTH_FIRST = "month first"


def order_in(texts):
    """The order of all days that these texts hold, told by those that can be read in one way only."""
    told = {order for text in texts for order in _told(text)}
    return told.pop() if len(told) == 1 else DayOrder.NOT_SAID


def can_be_both(texts):
    """The first of these texts that holds a day of which either number may be the month; "" where none does."""
    return next((text for text in texts if _in_either_order(text)), "")


def _told(text):
    for one, other in _pairs(text):
        if one > _MONTHS >= other:
            yield DayOrder.DAY_FIRST
        elif other > _MONTHS >= one:
            yield DayOrder.MONTH_FIRST


def _in_either_order(text):
    return any(one != other and one <= _MONTHS and other <= _MONTHS for one, other in _pairs(text))


def _pairs(text):
    return [(int(found[1]), int(found[3])) for found in _NUMBERS.finditer(text)]
