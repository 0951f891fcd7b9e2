"""Calendar arithmetic on arrays of days (`datetime64[D]`); NaT stays NaT."""

import numpy as np

DAYS_A_YEAR = 365.25
NO_DAY = np.datetime64("NaT", "D")
# the last that dates of the database and of pages can say
LAST_DAY = np.datetime64("9999-12-31", "D")


def add_months(days, months):
    """The same day of the month, `months` (scalar or array) later; the month's last day where it is shorter.

    So 29 February plus 12 months is 28 February, and 31 January plus one is the last of February.
    """
    days = np.asarray(days, dtype="datetime64[D]")
    month = days.astype("datetime64[M]")
    target = month + np.asarray(months, dtype="timedelta64[M]")
    first = target.astype("datetime64[D]")
    last = (target + np.timedelta64(1, "M")).astype("datetime64[D]") - np.timedelta64(1, "D")
    return np.minimum(first + (days - month.astype("datetime64[D]")), last)


def add_years(days, years):
    """The same calendar day, `years` later; 29 February becomes 28 February where there is none."""
    return add_months(days, 12 * np.asarray(years))


def whole_months(years):
    """Years as the whole months in them, rounded down; 2.3 years are 27 months."""
    # a twelfth written as a decimal number falls short of its month by less than this
    return np.floor(12 * np.asarray(years, dtype=float) + 1e-6).astype(np.int64)


def first_of(*days):
    """Element-wise earliest day; NaT where none has one."""
    earliest = days[0]
    for other in days[1:]:
        earliest = np.fmin(earliest, other)
    return earliest


def day_words(days):
    """ISO texts as an object array, "NaT" where there is no day; each day is spelt once."""
    known, inverse = np.unique(days, return_inverse=True)
    return np.datetime_as_string(known).astype(object)[inverse]
