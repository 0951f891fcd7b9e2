"""What the story of a mat is drawn and told from: its fittings, readings, faults and events."""

from dataclasses import dataclass
from datetime import date

from fleet.choices import FittedBasis, UsageState
from fleet.selectors.mats import fittings_of_mat
from fleet.selectors.usage import USUAL, WAITS, usage_state

# states that are drawn as one of two; others are not drawn: called off, or given way
DRAWN_AS = {
    UsageState.WENT: UsageState.WENT,
    USUAL: UsageState.WENT,
    UsageState.PLANNED: UsageState.PLANNED,
    WAITS: UsageState.PLANNED,
}


@dataclass(frozen=True)
class FittingToDraw:
    """A cable in its position, from `fitted_on` up to `removed_on` (None: it is still there)."""

    position: int
    fitted_on: date
    removed_on: date | None
    basis: str = FittedBasis.KNOWN


@dataclass(frozen=True)
class ReadingToDraw:
    """`verdict`: within, over or undecided; a reading without one is not drawn. No signal is over."""

    position: int
    day: date
    verdict: str


@dataclass(frozen=True)
class FaultToDraw:
    """`position` None: of the mat, or nobody knows of which cable."""

    position: int | None
    day: date


@dataclass(frozen=True)
class EventToDraw:
    """`usual`: use that somebody says it has in the month of its day, and on no day of it."""

    starts_on: date
    ends_on: date
    state: str
    usual: bool = False


@dataclass(frozen=True)
class LaneNow:
    """What is to be done about a position today: its status in words ("": none) and the day from which it is due."""

    position: int
    status: str = ""
    due_on: date | None = None


@dataclass(frozen=True)
class StoryOfMat:
    """All that is drawn. `lanes`: a LaneNow for each position of today; positions that are gone have a lane as well."""

    on: date
    lanes: tuple[LaneNow, ...]
    fittings: tuple[FittingToDraw, ...]
    readings: tuple[ReadingToDraw, ...] = ()
    faults: tuple[FaultToDraw, ...] = ()
    events: tuple[EventToDraw, ...] = ()

    @property
    def came_out(self):
        """{position: how many cables came out of it}, of those that lost any."""
        numbers = [
            fitting.position for fitting in self.fittings if fitting.removed_on and fitting.removed_on <= self.on
        ]
        return {number: numbers.count(number) for number in sorted(set(numbers))}

    @property
    def first(self):
        """The day with which it begins."""
        days = [row.fitted_on for row in self.fittings] + [row.day for row in (*self.readings, *self.faults)]
        return min([*days, *(event.starts_on for event in self.events), self.on])

    @property
    def first_basis(self):
        """How surely that day is known: a fitting may begin on a guess."""
        bases = {row.basis for row in self.fittings if row.fitted_on == self.first}
        return next(iter(bases - {FittedBasis.KNOWN}), FittedBasis.KNOWN)


def fittings_with_readings(mat, readings, on):
    """All fittings of the mat, each with its comparable `readings` that are not void, oldest first.

    `readings`: of `readings_of_mat`.
    """
    fittings, counted = list(fittings_of_mat(mat, on)), [shown for shown in readings[::-1] if _is_drawn(shown)]
    for fitting in fittings:
        fitting.readings = [
            shown
            for shown in counted
            if shown.reading.segment_id == fitting.segment_id and fitting.covers(shown.reading.measured_on)
        ]
    return fittings


def story_of_mat(state, fittings, faults, usage, on):
    """`fittings`: with their readings; `usage`: of `usage_of_mat`; `state`: the MatState of that day."""
    return StoryOfMat(
        on=on,
        lanes=tuple(_lane(position) for position in state.positions),
        fittings=tuple(
            FittingToDraw(row.position, row.fitted_on, row.removed_on, row.fitted_basis) for row in fittings
        ),
        readings=tuple(
            ReadingToDraw(row.position, shown.reading.measured_on, shown.judgement.verdict)
            for row in fittings
            for shown in row.readings
        ),
        faults=tuple(FaultToDraw(fault.position, fault.reported_on) for fault in faults),
        events=tuple(
            EventToDraw(row.event.starts_on, row.event.ends_on, DRAWN_AS[state], state == USUAL)
            for row in usage
            if (state := usage_state(row, on)) in DRAWN_AS
        ),
    )


def _is_drawn(shown):
    return bool(shown.judgement.verdict) and not shown.is_void


def _lane(position):
    row = position.assessment
    return LaneNow(position.place.number, row.status if row else "", row.due_on if row else None)
