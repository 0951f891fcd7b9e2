"""What an act takes, by the clock on the wall and of the processor."""

import time
from typing import NamedTuple


class Spent(NamedTuple):
    """Seconds."""

    wall_s: float
    cpu_s: float


def timed(act):
    return timed_with(act)[0]


def timed_with(act):
    """(Spent, what the act answers)."""
    wall, cpu = time.perf_counter(), time.process_time()
    answer = act()
    return Spent(time.perf_counter() - wall, time.process_time() - cpu), answer


def least(act, times):
    """(seconds of the processor, the least of several, and what the act answers)."""
    turns = [timed_with(act) for _ in range(times)]
    return min(spent.cpu_s for spent, _ in turns), turns[-1][1]
