"""A mat's year at a glance: a row for each month, a place for each day, a mark for each event."""

from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format

from fleet.choices import UsageState
from fleet.months import first_of_month, last_of_month, months_after
from fleet.selectors.usage import GAVE_WAY, USUAL

from ...templatetags.figures import counted, short_day

NOT_CONFIRMED = "not confirmed"
# in the order in which they are counted and explained
STATES = (UsageState.WENT, NOT_CONFIRMED, UsageState.PLANNED, UsageState.CALLED_OFF, USUAL, GAVE_WAY)
MONTHS_BACK, MOST_AHEAD = 11, 6
LEFT, TOP, DAY, MARK, LANE, GAP = 92, 26, 32, 12, 20, 7
LEGEND_GAP, LETTER, LEGEND_ROOM = 18, 6.6, 34
DAYS_NAMED = (1, 5, 10, 15, 20, 25, 31)


@dataclass(frozen=True)
class EventToDraw:
    """One event of the mat. `state`: one of STATES; `loan`: drawn as a span."""

    name: str
    starts_on: date
    ends_on: date
    state: str
    counts_for: int
    loan: bool = False
    in_series: bool = False
    url: str = ""

    @property
    def title(self):
        """The event in words, for the tooltip of its mark."""
        if self.state in (USUAL, GAVE_WAY):
            other = "; it does not count, as others are logged" if self.state == GAVE_WAY else ""
            return f"Usual use of {date_format(self.starts_on, 'F Y')}: {counted(self.counts_for, 'event')}{other}"
        until = f" to {short_day(self.ends_on)}" if self.ends_on != self.starts_on else ""
        counts = f", counts for {self.counts_for} events" if self.counts_for > 1 else ""
        return f"{self.name}, {short_day(self.starts_on)}{until}: {self.state}{counts}"


@dataclass(frozen=True)
class Shape:
    """What stands for a state: full, hollow, half full, a cross; a loan is a thin bar between posts.

    Usual use is a ring, with a dot in it where it counts: it stands for a month, not for its day.
    """

    state: str
    x: float
    y: float
    width: float
    loan: bool = False
    in_series: bool = False
    begins: bool = True
    ends: bool = True

    @property
    def bar(self):
        """(y, height) of the bar."""
        return (self.y + 3, MARK - 6) if self.loan else (self.y, MARK)

    @property
    def full(self):
        """(y, height) of what is filled of it; None: nothing."""
        y, height = self.bar
        return {UsageState.WENT: (y, height), NOT_CONFIRMED: (y + height / 2, height / 2)}.get(self.state)

    @property
    def ring(self):
        """(x, y, radius) of usual use; None: it is an event."""
        middle = self.x + self.width / 2, self.y + MARK / 2
        return (*middle, MARK / 2) if self.state in (USUAL, GAVE_WAY) else None

    @property
    def dotted(self):
        return self.state == USUAL

    @property
    def crossed(self):
        return self.state == UsageState.CALLED_OFF

    @property
    def cross(self):
        left, right = self.x + self.width / 2 - MARK / 2, self.x + self.width / 2 + MARK / 2
        return f"M{left} {self.y}L{right} {self.y + MARK}M{left} {self.y + MARK}L{right} {self.y}"

    @property
    def posts(self):
        """Where a loan begins and ends; it goes on without a post into the next month."""
        ends = [self.x] * self.begins + [self.x + self.width] * self.ends
        return "".join(f"M{x} {self.y - 2}V{self.y + MARK + 2}" for x in ends) if self.loan else ""

    @property
    def under(self):
        return f"M{self.x} {self.y + MARK + 4}H{self.x + self.width}" if self.in_series else ""


@dataclass(frozen=True)
class Mark:
    event: EventToDraw
    shape: Shape


@dataclass(frozen=True)
class MonthRow:
    """`marks`: all that lies in it; `events`: those whose first day shown lies in it, each once in the whole strip."""

    first: date
    y: float
    height: float
    right: float
    marks: tuple[Mark, ...]
    events: tuple[EventToDraw, ...]

    @property
    def bottom(self):
        return self.y + self.height

    @property
    def text_y(self):
        return self.y + GAP + MARK


@dataclass(frozen=True)
class YearStrip:
    """`days`: (x, day of the month); `later`: events after the last month; `legend`: (words, shape, x of the words)."""

    months: tuple[MonthRow, ...]
    days: tuple[tuple[float, int], ...]
    today: tuple[float, float]
    later: int
    legend: tuple[tuple[str, Shape, float], ...]
    height: float
    width: int = 1100
    left: int = LEFT
    day: int = DAY
    lane: int = LANE

    @property
    def legend_y(self):
        return self.height - LEGEND_ROOM + 16 + MARK

    @property
    def events(self):
        return [event for month in self.months for event in month.events]

    @property
    def span(self):
        """The first and last month shown, in words."""
        first, last = self.months[0].first, self.months[-1].first
        return f"From {date_format(first, 'F Y')} to {date_format(last, 'F Y')}"

    def number(self, state):
        return sum(event.state == state for event in self.events)

    @property
    def numbers(self):
        """(state, how many events) of those that occur."""
        counted = [(state, self.number(state)) for state in STATES]
        return [(state, number) for state, number in counted if number]


def year_strip(events, on):
    """Twelve months up to the one of `on`, and those ahead that have events, six at most."""
    ordered = sorted(events, key=lambda event: (event.starts_on, event.ends_on, event.name))
    lanes = _lanes(ordered)
    first, last = months_after(on, -MONTHS_BACK), _last_month(ordered, on)
    rows, y = [], TOP
    while first <= last:
        rows.append(_row(first, y, list(zip(ordered, lanes, strict=True)), is_first=not rows))
        first, y = months_after(first, 1), rows[-1].bottom
    return YearStrip(
        months=tuple(rows),
        days=tuple((_x(day) + DAY / 2, day) for day in DAYS_NAMED),
        today=(_x(on.day), next(row.y for row in rows if row.first == first_of_month(on))),
        later=sum(event.starts_on >= first for event in ordered),
        legend=_legend(ordered, y + 16),
        height=y + LEGEND_ROOM,
    )


def _row(first, y, events, *, is_first):
    last = last_of_month(first)
    shown = [(event, lane) for event, lane in events if event.starts_on <= last and event.ends_on >= first]
    return MonthRow(
        first,
        y,
        LANE * (1 + max((lane for _, lane in shown), default=0)) + GAP,
        _x(last.day + 1),
        tuple(Mark(event, _shape(event, first, last, y + GAP + LANE * lane)) for event, lane in shown),
        tuple(event for event, _ in shown if is_first or event.starts_on >= first),
    )


def _shape(event, first, last, y):
    begins, ends = event.starts_on >= first, event.ends_on <= last
    left = _x(max(event.starts_on, first).day) + 4 * begins
    right = _x(min(event.ends_on, last).day + 1) - 4 * ends
    return Shape(event.state, left, y, right - left, event.loan, event.in_series, begins, ends)


def _lanes(ordered):
    """For each event the highest lane that is free on its days, so that two on one day stand one below the other."""
    taken_until, lanes = [], []
    for event in ordered:
        free = (number for number, day in enumerate(taken_until) if day < event.starts_on)
        lane = next(free, len(taken_until))
        taken_until[lane : lane + 1] = [event.ends_on]
        lanes.append(lane)
    return lanes


def _legend(events, y):
    """Only what occurs is explained."""
    states = {event.state for event in events}
    shown = [(state, {}) for state in STATES if state in states]
    shown += [("a loan", {"loan": True})] if any(event.loan for event in events) else []
    shown += [("one of a series", {"in_series": True})] if any(event.in_series for event in events) else []
    legend, x = [], LEFT
    for words, more in shown:
        shape = Shape(words if words in states else UsageState.PLANNED, x, y, DAY - 8, **more)
        legend.append((words, shape, x + DAY))
        x += DAY + LETTER * len(words) + LEGEND_GAP
    return tuple(legend)


def _last_month(events, on):
    ahead = [first_of_month(event.ends_on) for event in events if event.ends_on > on]
    return min(max([first_of_month(on), *ahead]), months_after(on, MOST_AHEAD))


def _x(day_of_month):
    return LEFT + DAY * (day_of_month - 1)
