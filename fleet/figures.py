"""Days and numbers as every page, sheet, sentence and message shows them; templates have them by `{% load figures %}`.

Files keep days as 2026-11-26 and numbers as they were given: they are read again.
"""

# no line ends between a number and its sign
PERCENT = "\N{NO-BREAK SPACE}%"
YEARS_AHEAD = 10
NOT_WITHIN = f"not within {YEARS_AHEAD} years"


def short_day(day):
    """26 Nov 2026; '' of none."""
    return f"{day.day} {day:%b %Y}" if day else ""


def is_far(day, on):
    """Beyond ten years from `on`: no forecast of a cable names a day there."""
    return day is not None and (day.year - YEARS_AHEAD, day.month, day.day) > (on.year, on.month, on.day)


def day_ahead(day, on):
    """A day that is expected: 26 Nov 2028; *not within 10 years*; '' of none."""
    return NOT_WITHIN if is_far(day, on) else short_day(day)


def short_time(moment):
    """26 Nov 2026, 14:05, in the time zone that the moment is in."""
    return f"{short_day(moment)}, {moment:%H:%M}"


def figure(number):
    """A number as a person writes it: no trailing zeros, never 1e-05."""
    return "" if number is None else f"{number:.10g}"


def two_places(number):
    """A loss in dB or a length in m: rounded in one way everywhere, so that no two places differ."""
    return "" if number is None else f"{number:.2f}"


def risk(accepted):
    """The chance that the policy tolerates, as it was set."""
    return f"{100 * accepted:.10g}{PERCENT}"


def percent(chance):
    """A chance as people say it: whole from 1 % on, with one place below; never 0 % or 100 %."""
    if chance is None:
        return ""
    hundredths = 100 * chance
    if hundredths < 0.1:
        return f"below 0.1{PERCENT}"
    if round(hundredths, 1) < 1:
        return f"{hundredths:.1f}{PERCENT}"
    return f"{hundredths:.0f}{PERCENT}" if hundredths < 99.5 else f"above 99{PERCENT}"
