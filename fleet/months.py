"""Calendar months, each named by its first day, and weeks, by their Monday."""

from calendar import monthrange
from datetime import date, timedelta

MONTHS_A_YEAR = 12
MIDDLE_OF_MONTH = 15


def monday_of(day):
    return day - timedelta(days=day.weekday())


def first_of_month(day):
    return day.replace(day=1)


def last_of_month(day):
    return day.replace(day=monthrange(day.year, day.month)[1])


def months_after(day, number):
    """The first day of the month that lies so many months after that of `day`; negative: before it."""
    return numbered_month(month_number(day) + number)


def month_number(day):
    """Counts the months, so that they can be subtracted; `numbered_month` gives the day back."""
    return day.year * MONTHS_A_YEAR + day.month - 1


def numbered_month(number):
    year, month = divmod(number, MONTHS_A_YEAR)
    return date(year, month + 1, 1)
