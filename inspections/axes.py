"""Axes that drawings share: the frame in which they stand, ticks at round numbers, and at the first days of months."""

import math
from dataclasses import dataclass
from itertools import count

import numpy as np

from fleet.months import month_number, numbered_month

MONTH_STEPS = (1, 2, 3, 6, 12, 24, 60, 120)


@dataclass(frozen=True)
class Frame:
    """The size of a drawing, and where in it the axes end, in the points of its view box."""

    width: int
    height: int
    left: int
    right: int
    top: int
    bottom: int

    def across(self, share):
        """Where a share of the way from the left end to the right one lies; what lies outside is put on the edge."""
        return np.round(self.left + (self.right - self.left) * np.clip(share, 0, 1), 1)

    def up(self, share):
        """The same from the bottom to the top."""
        return np.round(self.bottom - (self.bottom - self.top) * np.clip(share, 0, 1), 1)


def placed(scale, values):
    """((place, value), …) of ticks on a scale."""
    return tuple((float(scale(value)), value) for value in values)


def round_ticks(low, high, *, most, least_step):
    """Multiples of a round step (1, 2 or 5 by a power of ten, from `least_step` on) from `low` to `high`.

    The step is the least of which at most `most` go into the larger of both, or into what lies between them where
    zero does not. Ends that are no numbers have no ticks.
    """
    if not (math.isfinite(low) and math.isfinite(high)):
        return []
    reach = max(abs(low), abs(high)) if low <= 0 <= high else high - low
    step = next(step for step in _round_steps(least_step) if reach / step <= most)
    return [round(step * number, 6) for number in range(math.ceil(low / step), math.floor(high / step) + 1)]


def _round_steps(least):
    powers = count(math.floor(math.log10(least)))
    steps = (float(f"{digit}e{power}") for power in powers for digit in (1, 2, 5))
    return (step for step in steps if step >= least)


def month_ticks(first, last, *, most):
    """First days of months from `first` to `last`, at most about `most` of them: quarters, years and so on."""
    span, decade = month_number(last) - month_number(first), MONTH_STEPS[-1]
    step = next((step for step in MONTH_STEPS if span / step <= most), decade * math.ceil(span / (decade * most)))
    start = -(-(month_number(first) + (first.day > 1)) // step) * step
    return [numbered_month(number) for number in range(start, month_number(last) + 1, step)]
