"""Mats of the demo pool with a part to play, so that every status and every oddity is there on any day.

A part is a mat number, or several of which one is taken; days count back from the day the pool is made.
"""

from datetime import timedelta

THREE_YEARS = 3 * 365 + 1
LATE = "M-007"
DUE_BEFORE_EVENT = "M-012"
DUE_SOON = "M-023"
SECOND_HAND = "M-044"
WITHDRAWN = "M-016"
HELD_BACK = "M-030"
EMPTY_POSITION = ("M-018", 6)
CABLE_FAULT = ("M-035", "M-038", "M-043", "M-046")
NO_SIGNAL = "M-029"
DOUBTFUL = "M-021"
MADE_VOID = "M-003"
# read with an analyser of one port and a go/no-go tester
OTHER_INSTRUMENTS = "M-026"
NOT_MEASURED_LATELY = "M-033"
LENT = ("M-010", "M-037")

# days ago on which some mats were bought; their cables are still the first
BOUGHT = {
    LATE: THREE_YEARS + 9,
    DUE_BEFORE_EVENT: THREE_YEARS - 25,
    DUE_SOON: THREE_YEARS - 70,
    NOT_MEASURED_LATELY: 700,
    SECOND_HAND: 150,
    LENT[1]: 957,
}
FIRST_CABLES_STAY = (LATE, DUE_BEFORE_EVENT, DUE_SOON, NOT_MEASURED_LATELY, SECOND_HAND)
# cables whose first fitting day is remembered only roughly
ABOUT = ("M-002", "M-014", "M-025")
WITHDRAWN_DAYS = 500
EMPTY_DAYS = 12
EVENTS_BEFORE = 40


def may_be_planned(number, starts_on, on):
    """Whether a mat may be planned for an event that is ahead."""
    if number == DUE_SOON:
        return starts_on < on + timedelta(days=60)
    return number != HELD_BACK


def takes_moved_cables(number):
    return number not in (WITHDRAWN, EMPTY_POSITION[0], *FIRST_CABLES_STAY)


def always_planned(number):
    return number == DUE_BEFORE_EVENT
