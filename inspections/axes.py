"""Axes that drawings share: ticks at round numbers, and at the first days of months."""

import math
from datetime import date
from itertools import count

MONTH_STEPS = (1, 2, 3, 6, 12, 24, 60, 120)


def round_ticks(low, high, *, most, least_step):
    """Multiples of a round step (1, 2 or 5 by a power of ten, from `least_step` on) from `low` to `high`.

    The step is the least of which at most `most` go into the larger of both. Ends that are no numbers have no ticks.
    """
    if not (math.isfinite(low) and math.isfinite(high)):
        return []
    reach = max(abs(low), abs(high))
    step = next(step for step in _round_steps(least_step) if reach / step <= most)
    return [round(step * number, 6) for number in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _round_steps(least):
    powers = count(math.floor(math.log10(least)))
    steps = (float(f"{digit}e{power}") for power in powers for digit in (1, 2, 5))
    return (step for step in steps if step >= least)


def month_ticks(first, last, *, most):
    """First days of months from `first` to `last`, at most about `most` of them: quarters, years and so on."""
    span, decade = _number(last) - _number(first), MONTH_STEPS[-1]
    step = next((step for step in MONTH_STEPS if span / step <= most), decade * math.ceil(span / (decade * most)))
    start = -(-(_number(first) + (first.day > 1)) // step) * step
    return [_first_of(number) for number in range(start, _number(last) + 1, step)]


def months_after(day, months):
    """The first day of the month that lies so many months after that of `day`, or before it."""
    return _first_of(_number(day) + months)


def _number(day):
    return day.year * 12 + day.month - 1


def _first_of(number):
    return date(number // 12, number % 12 + 1, 1)
