"""Work on one table, a piece at a time and none interrupted: what comes when, and what cannot be done in time.

Time is counted in slots, as many to a day as cables can be changed on it; the first is 0. A job is begun and ended
within one of its windows. Sources: Jackson 1955 (earliest due first is best for the worst lateness where every job can
begin at once); with days on which a job is not there no simple rule is, so other orders are tried.
"""

from dataclasses import dataclass
from itertools import count

# jobs that are placed at most while orders are tried: a page waits for it
MOST_STEPS = 20_000
EXACT_JOBS = 8


@dataclass(frozen=True)
class Job:
    """`length` in slots, at least 1; `due`: the slot by which it must be ended, None: never late.

    `windows`: (first slot, slot after the last) in which it is there, in order and not overlapping.
    """

    length: int
    due: int | None
    windows: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Plan:
    """`starts`: of each job its first slot, None where no window has room for it."""

    jobs: tuple[Job, ...]
    starts: tuple[int | None, ...]

    def end(self, number):
        start = self.starts[number]
        return None if start is None else start + self.jobs[number].length

    @property
    def lateness(self):
        """Slots of each job from its due slot to its end; negative: early; infinite: it has no place at all."""
        return tuple(_lateness(job, start) for job, start in zip(self.jobs, self.starts, strict=True))

    @property
    def late(self):
        """Numbers of the jobs that are not ended by their due slot."""
        return tuple(number for number, slots in enumerate(self.lateness) if slots > 0)


def fewest_late(lateness):
    """How bad it is, the number of late jobs first, then the worst lateness among those that have a place."""
    placed = [slots for slots in lateness if slots != float("inf")]
    return sum(slots > 0 for slots in lateness), len(lateness) - len(placed), max(placed, default=float("-inf"))


def worst_lateness(lateness):
    """How bad it is, by the worst lateness alone."""
    return (max(lateness, default=float("-inf")),)


def earliest_due_first(jobs):
    """The numbers of the jobs by due slot, those without one last; of equal ones the first."""
    return sorted(range(len(jobs)), key=lambda number: _due(jobs[number]))


def placed(jobs, order):
    """The Plan in which each job, in this order, takes the first free slots in a row that its windows have.

    One of these orders gives the best plan there is, whatever grows with lateness is to be small.
    """
    taken, starts = [], [None] * len(jobs)
    for number in order:
        starts[number] = _first_free(jobs[number], taken)
        _take(taken, starts[number], jobs[number].length)
    return Plan(tuple(jobs), tuple(starts))


def fit_in(jobs, badness=fewest_late):
    """The Plan by earliest due first; where jobs are late by it, a better one if one is found.

    Of at most EXACT_JOBS jobs the best, where MOST_STEPS suffice to know it; of more, the best that
    bringing single jobs forward or back leads to.
    """
    order = earliest_due_first(jobs)
    plan = placed(jobs, order)
    if not plan.late:
        return plan
    if len(jobs) <= EXACT_JOBS:
        return _Search(jobs, badness, plan).best
    return _moved(jobs, badness, order, plan)


class _Search:
    """All orders, each step of them once: what is worse already than the best so far is not gone on with."""

    def __init__(self, jobs, badness, plan):
        self.jobs, self.badness, self.best = tuple(jobs), badness, plan
        self.least, self.steps = badness(plan.lateness), 0
        self._go_on(earliest_due_first(jobs), [], [None] * len(jobs), [])

    def _go_on(self, left, taken, starts, lateness):
        if self.steps > MOST_STEPS or (lateness and self.badness(lateness) >= self.least):
            return
        if not left:
            self.least, self.best = self.badness(lateness), Plan(self.jobs, tuple(starts))
            return
        for number in left:
            self.steps += 1
            job, rest, busy = self.jobs[number], [other for other in left if other != number], list(taken)
            starts[number] = _first_free(job, busy)
            _take(busy, starts[number], job.length)
            self._go_on(rest, busy, starts, [*lateness, _lateness(job, starts[number])])


def _moved(jobs, badness, order, plan):
    least, tried = badness(plan.lateness), count(1)
    better = True
    while better and plan.late:
        better = False
        for changed in _orders_nearby(order, plan):
            if next(tried) * len(jobs) > MOST_STEPS:
                return plan
            other = placed(jobs, changed)
            if badness(other.lateness) < least:
                order, plan, least, better = changed, other, badness(other.lateness), True
                break
    return plan


def _orders_nearby(order, plan):
    """Each late job before all others, then each job behind all others, the longest first."""
    for number in plan.late:
        yield [number, *(other for other in order if other != number)]
    for number in sorted(order, key=lambda number: -plan.jobs[number].length):
        yield [*(other for other in order if other != number), number]


def _first_free(job, taken):
    """`taken`: spans (first slot, slot after the last) in order."""
    for first, last in job.windows:
        start = first
        for busy_from, busy_to in taken:
            if busy_from >= start + job.length:
                break
            start = max(start, busy_to)
        if start + job.length <= last:
            return start
    return None


def _take(taken, start, length):
    """Slots that follow one another are kept as one span, so that there are few to look through."""
    if start is None:
        return
    first, last = start, start + length
    touching = [span for span in taken if span[0] <= last and span[1] >= first]
    span = (min([first, *(at for at, _ in touching)]), max([last, *(to for _, to in touching)]))
    taken[:] = sorted([span, *(other for other in taken if other not in touching)])


def _due(job):
    return float("inf") if job.due is None else job.due


def _lateness(job, start):
    if start is None:
        return float("inf")
    return float("-inf") if job.due is None else start + job.length - job.due
