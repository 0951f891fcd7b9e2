"""The words of the rules, one list each: formulas, models, forms, templates and reports take them from here."""

from enum import IntEnum, StrEnum


class Verdict(StrEnum):
    """Of one reading against the loss limit."""

    WITHIN = "within"
    OVER = "over"
    UNDECIDED = "undecided"


class Cause(StrEnum):
    """Why a segment is due, the gravest first: of those reached, and of several on one day, the first leads."""

    DAMAGE = "damage"
    LOSS = "loss"
    TREND = "trend"
    EVENTS = "events"
    AGE = "age"

    @property
    def gravity(self):
        """1: broken or measured over; 2: by trend; 3: by events or age alone."""
        return {"damage": 1, "loss": 1, "trend": 2}.get(self, 3)


class Status(StrEnum):
    """What is to be done about a segment, the most urgent first."""

    CHANGE_NOW = "change now"
    CHANGE_BEFORE = "change before"
    CHANGE_SOON = "change within look-ahead"
    MEASURE = "measure"
    UNKNOWN = "unknown"
    OK = "ok"

    @property
    def order(self):
        """1 for the most urgent; rows keep this number, since a database sorts by it."""
        return list(Status).index(self) + 1

    @classmethod
    def of_order(cls, order):
        return list(cls)[order - 1]


# of a segment that is to be changed: now or before an event, and all that is due
PRESSING = (Status.CHANGE_NOW, Status.CHANGE_BEFORE)
DUE = (*PRESSING, Status.CHANGE_SOON)


class EventsBasis(StrEnum):
    """How the day on which the event limit is reached was found."""

    REACHED = "reached"
    PLANNED = "planned"
    USUAL_RATE = "usual rate"


class TrendFrom(StrEnum):
    """Whose readings a segment's line rests on."""

    OWN = "own readings"
    SIMILAR = "similar cables"


class MeasureReason(StrEnum):
    """What asks for a measurement; of several the first is said."""

    UNDECIDED = "undecided"
    DOUBTFUL = "doubtful"
    NO_LINE = "does not follow a line"
    FALLING = "falling"
    NEVER_MEASURED = "never measured"
    LONG_AGO = "measured long ago"
    SIMILAR_DUE = "similar cables are due"


class NoDateReason(StrEnum):
    """Why a segment has no trend date."""

    AGE_NOT_KNOWN = "age not known"
    ONE_TIME = "all readings on one day"
    TOO_FEW_READINGS = "too few readings"
    FALLING = "falling"
    SIMILAR_FALLING = "similar cables fall"
    NOT_SETTLED = "rate not settled"
    STANDS_STILL = "stands still"
    NO_FIT = "cannot be calculated"
    LATER = "later than 40 years"


class NoModelReason(StrEnum):
    """Why there is no trend of the pool."""

    FEW_SEGMENTS = "fewer than five segments with readings on two days"
    ONE_TIME = "all readings on one day"
    NO_FIT = "cannot be calculated"


class DayReads(StrEnum):
    """How the bench of a day read, against all other days."""

    HIGH = "high"
    LOW = "low"
    USUAL = "about as usual"
    TOO_FEW = "too few readings"
    NOT_KNOWN = "not known"


class Clock(StrEnum):
    """What wear is counted by."""

    YEARS = "years"
    EVENTS = "events"


class BatchAnswer(StrEnum):
    """What a loose cable of a batch is good for."""

    FIT = "fit for stock"
    NOT = "not"
    AGAIN = "measure again"


class Unlike(StrEnum):
    """What a new cable is unlike, though it is within the limit."""

    FRESH = "reads more than a fresh one"
    ABOVE = "reads more than the others of its batch"
    BELOW = "reads less than the others of its batch"


class FarEnd(StrEnum):
    """How the far end of a cable was while one port looked into it: the wave comes back from both."""

    OPEN = "open"
    SHORT = "short"


class InstrumentKind(StrEnum):
    """What an instrument does to a cable."""

    TWO_PORT = "two-port"
    RESPONSE_ONLY = "response only"
    ONE_PORT = "one-port"
    LOSS_METER = "loss meter"
    GO_NO_GO = "go/no-go"


class Method(StrEnum):
    """How a cable was connected when it was read, which decides what the number means."""

    THROUGH = "through"
    FAR_END_OPEN = "far end open"
    FAR_END_SHORTED = "far end shorted"
    ON_ELEMENT = "on its element"
    NOT_REFERENCED = "not referenced"


class Shown(IntEnum):
    """What a reading shows of its cable."""

    LOSS = 0
    # the wave passes the cable twice
    RETURN_LOSS = 1
    # its number says nothing of the cable's own loss
    NO_LOSS = 2
    WITHIN = 3
    OVER = 4


SHOWN_BY_METHOD = {
    Method.FAR_END_OPEN: Shown.RETURN_LOSS,
    Method.FAR_END_SHORTED: Shown.RETURN_LOSS,
    Method.ON_ELEMENT: Shown.NO_LOSS,
    Method.NOT_REFERENCED: Shown.NO_LOSS,
}
WITHOUT_LOSS = tuple(method for method, shown in SHOWN_BY_METHOD.items() if shown == Shown.NO_LOSS)
# in place of a number, as a go/no-go tester says it
SHOWN_BY_WORD = {Verdict.WITHIN: Shown.WITHIN, Verdict.OVER: Shown.OVER}
