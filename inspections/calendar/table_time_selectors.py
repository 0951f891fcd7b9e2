"""The time that a depot has at its table: so many cables on each day, as the keeper said for each weekday."""

from bisect import bisect_right
from dataclasses import dataclass
from datetime import timedelta
from itertools import accumulate

from fleet.parsing.counts import listed

from ..choices import CABLES_ON, WEEKDAYS

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True)
class WorkDays:
    """Cables that can be changed on each weekday, Monday first; `said`: by the keeper, not guessed."""

    cables: tuple[int, ...]
    said: bool

    def on(self, day):
        return self.cables[day.weekday()]

    @property
    def is_none(self):
        return not any(self.cables)

    def __str__(self):
        """8 cables a day on Monday to Friday; 8 cables on Mondays, 4 on Tuesdays."""
        if self.is_none:
            return "no day of work"
        days = {n: [at for at in range(7) if self.cables[at] == n] for n in dict.fromkeys(self.cables) if n}
        return ", ".join(f"{_weekdays(at)}: {n} cable{'s' if n > 1 else ''} a day" for n, at in days.items())


def work_days_of(policy, depot_id):
    """The `WorkDays` of a depot under a `Policy`; None: of mats without one."""
    cables = tuple(policy.value(setting.name, depot_id=depot_id) for setting in CABLES_ON)
    said = any(policy.is_set(setting.name, depot_id) for setting in CABLES_ON)
    return WorkDays(cables, said)


def _weekdays(numbers):
    if len(numbers) > 2 and numbers == list(range(numbers[0], numbers[-1] + 1)):
        return f"{WEEKDAYS[numbers[0]]} to {WEEKDAYS[numbers[-1]]}"
    return listed([WEEKDAYS[number] for number in numbers])


class TableTime:
    """The slots of a table from a first day to a last, one for each cable; `taken`: {day: slots not free}."""

    def __init__(self, work_days, first, last, taken):
        self.first, self.last = first, last
        self.days = [first + timedelta(days=number) for number in range((last - first).days + 1)]
        free = [max(work_days.on(day) - taken.get(day, 0), 0) for day in self.days]
        self.offsets = [0, *accumulate(free)]

    def slot_at(self, day):
        """The first slot of a day; of a day behind the last one as many slots on as days, so that the order stays."""
        number = (day - self.first).days
        if number >= len(self.offsets):
            return self.offsets[-1] + number - len(self.offsets) + 1
        return self.offsets[max(number, 0)]

    def windows(self, days):
        """The slots of these days, in one window where days follow one another."""
        spans = [(self.slot_at(first), self.slot_at(last + ONE_DAY)) for first, last in spans_of(days)]
        return tuple(span for span in spans if span[1] > span[0])

    def shares(self, start, length):
        """[(day, slots)] over which these slots go."""
        shares, end = [], start + length
        number = bisect_right(self.offsets, start) - 1
        while start < end:
            until = min(end, self.offsets[number + 1])
            if until > start:
                shares.append((self.days[number], until - start))
            start, number = until, number + 1
        return shares


def spans_of(days):
    """[(first, last)] of days, in order, that follow one another."""
    spans = []
    for day in days:
        if spans and day - spans[-1][1] == ONE_DAY:
            spans[-1] = (spans[-1][0], day)
        else:
            spans.append((day, day))
    return spans
