"""The story of a mat: a lane a position with its cables, readings and faults, and the events below."""

from dataclasses import dataclass
from datetime import date, timedelta

from fleet.choices import UsageState
from fleet.months import month_number, numbered_month
from fleet.selectors.loans import lasts_long

from ...axes import month_ticks
from ...numeric.words import Verdict
from .story_selectors import LaneNow

# how far ahead of today it reaches
AHEAD = timedelta(days=366)
TOP, TICK, CROSS = 30, 6, 4


@dataclass(frozen=True)
class Sheet:
    """The room of a drawing: one for the desk and paper, one for the phone, where letters are larger."""

    width: int
    left: int
    right: int
    lane: int
    most_ticks: int


DESK = Sheet(width=1100, left=60, right=960, lane=22, most_ticks=10)
PHONE = Sheet(width=640, left=84, right=600, lane=36, most_ticks=4)


@dataclass(frozen=True)
class Lane:
    """A position of today or of before, and the height of its lane."""

    now: LaneNow
    y: float


@dataclass(frozen=True)
class StoryChart:
    """Paths: `bars` from fitting to removal, `ends` where a cable came out, `ahead` from today to the due day.

    `within`, `over`, `undecided`: readings; `faults`: crosses; `went`, `planned`: events; `usual`: months of usual use.
    `ticks`: (x, first day).
    """

    sheet: Sheet
    lanes: tuple[Lane, ...]
    mat_y: float
    events_y: float
    today_x: float
    ticks: tuple[tuple[float, date], ...]
    bars: str
    ends: str
    ahead: str
    within: str
    over: str
    undecided: str
    faults: str
    went: str
    planned: str
    usual: str

    @property
    def bottom(self):
        return self.events_y + self.sheet.lane / 2

    @property
    def height(self):
        return self.bottom + 34


def story_chart(story, sheet=DESK):
    """Where everything of a StoryOfMat stands on that Sheet."""
    now = {lane.position: lane for lane in story.lanes}
    gone = {row.position for row in (*story.fittings, *story.readings)} - now.keys()
    numbers = sorted({*now, *gone})
    y = {number: TOP + sheet.lane * (place + 0.5) for place, number in enumerate(numbers)}
    y[None] = TOP + sheet.lane * (len(numbers) + 0.5)
    x = _Days(story.first, story.on + AHEAD, sheet)
    return StoryChart(
        sheet=sheet,
        lanes=tuple(Lane(now.get(number, LaneNow(number)), y[number]) for number in numbers),
        mat_y=y[None],
        events_y=y[None] + sheet.lane,
        today_x=x(story.on),
        ticks=tuple((x(day), day) for day in month_ticks(x.first, x.last, most=sheet.most_ticks)),
        **_of_cables(story, x, y),
        **_of_readings(story, x, y),
        faults="".join(_cross(x(fault.day), y.get(fault.position, y[None])) for fault in story.faults),
        **_of_events(story, x, y[None] + sheet.lane),
    )


@dataclass(frozen=True)
class _Days:
    """From a day to its x; what lies outside stands on the edge."""

    first: date
    last: date
    sheet: Sheet

    def __call__(self, day):
        share = min(max((day - self.first) / (self.last - self.first), 0), 1)
        return round(self.sheet.left + (self.sheet.right - self.sheet.left) * share, 1)


def _of_cables(story, x, y):
    out = [row for row in story.fittings if row.removed_on and row.removed_on <= story.on]
    due = [lane for lane in story.lanes if lane.due_on and lane.due_on > story.on]
    return {
        "bars": "".join(
            f"M{x(row.fitted_on)} {y[row.position]}H{x(min(row.removed_on or story.on, story.on))}"
            for row in story.fittings
        ),
        "ends": "".join(f"M{x(row.removed_on)} {y[row.position] - TICK}v{2 * TICK}" for row in out),
        "ahead": "".join(f"M{x(story.on)} {y[lane.position]}H{x(lane.due_on)}" for lane in due),
    }


def _of_readings(story, x, y):
    def dots(verdict):
        return "".join(f"M{x(row.day)} {y[row.position]}h0" for row in story.readings if row.verdict == verdict)

    undecided = [row for row in story.readings if row.verdict == Verdict.UNDECIDED]
    return {
        "within": dots(Verdict.WITHIN),
        "over": dots(Verdict.OVER),
        "undecided": "".join(f"M{x(row.day)} {y[row.position] - 4}l4 4l-4 4l-4 -4z" for row in undecided),
    }


def _of_events(story, x, y):
    def marks(state):
        return "".join(_event(event, x, y) for event in story.events if event.state == state and not event.usual)

    months = "".join(_month(event.starts_on, x, y) for event in story.events if event.usual)
    return {"went": marks(UsageState.WENT), "planned": marks(UsageState.PLANNED), "usual": months}


def _month(day, x, y):
    """Lies flat, from the first day of its month to that of the next: it is on no day."""
    number = month_number(day)
    return f"M{x(numbered_month(number))} {y}H{x(numbered_month(number + 1))}"


def _event(event, x, y):
    """A tick; a loan is as wide as it lasts."""
    span = f"m0 {TICK}H{x(event.ends_on)}" if lasts_long(event) else ""
    return f"M{x(event.starts_on)} {y + TICK}v-{2 * TICK}{span}"


def _cross(x, y):
    return f"M{x - CROSS} {y - CROSS}l{2 * CROSS} {2 * CROSS}m0 -{2 * CROSS}l-{2 * CROSS} {2 * CROSS}"
