"""The words that rows may hold: one list each, used by models, forms and files."""

from django.db.models import TextChoices


class FittedBasis(TextChoices):
    KNOWN = "known"
    ABOUT = "about"
    NOT_LATER_THAN = "not later than"


class AcquiredBasis(TextChoices):
    """Whether the day on which a mat came is known, or only its month or year."""

    KNOWN = "known"
    ABOUT = "about"


class LengthBasis(TextChoices):
    """Whether somebody measured the length, or the app filled it in between others."""

    KNOWN = "known"
    ESTIMATED = "estimated"


class SerialBasis(TextChoices):
    """Whether the serial stands on the cable, or the app gave it a running number."""

    OWN = "own"
    GIVEN = "given"


class EndTest(TextChoices):
    """Without an instrument: whether a transponder over the element was read once the cable was in."""

    READ = "read"
    NOT_READ = "not read"


class Weather(TextChoices):
    DRY = "dry"
    DAMP = "damp"
    RAIN = "rain"
    SNOW = "snow"


class UsageState(TextChoices):
    PLANNED = "planned"
    WENT = "went"
    CALLED_OFF = "called off"


class UsageBasis(TextChoices):
    COUNTED = "counted"
    REPORTED = "reported"
    ASSUMED = "assumed"
    USUAL = "usual"


class NoteAbout(TextChoices):
    """What a note is about; each word names the field of the note that holds it."""

    MAT = "mat"
    SEGMENT = "segment"
    EVENT = "event"


class FaultPlace(TextChoices):
    CABLE = "cable"
    CONNECTOR = "connector"
    ONE_OF_CABLES = "one of the cables"
    ELEMENT = "element or board"
    COVER = "cover or fold"
    WET = "wet"
    WHOLE_MAT = "whole mat"
    NOT_KNOWN = "not known"


class FaultEnd(TextChoices):
    CHANGE = "change"
    REPAIR = "repair"
    DRIED = "dried"
    NOTHING_FOUND = "looked at, nothing found"


CABLE_PLACES = (FaultPlace.CABLE, FaultPlace.CONNECTOR)


def ends_of(place):
    """How a fault of that place may end: one that is no cable's and no connector's may also have dried."""
    return [end for end in FaultEnd if end != FaultEnd.DRIED or place not in CABLE_PLACES]


class Disposition(TextChoices):
    """What becomes of a segment that is taken out."""

    SHELF = "back to the shelf"
    AWAY = "thrown away"


class StockReason(TextChoices):
    """Why what lies on the shelf became more or less."""

    RECEIVED = "received"
    FITTED = "fitted"
    RETURNED = "returned"
    COUNTED = "counted"
    SCRAPPED = "scrapped"
    MOVED = "moved"


class LoadSource(TextChoices):
    """What many rows came from at once."""

    FILES = "files"
    START_HERE = "Start here"


class SignInOutcome(TextChoices):
    SIGNED_IN = "signed in"
    WRONG = "wrong"
    TOLD_TO_WAIT = "told to wait"
    DEACTIVATED = "deactivated"
    OLD_PASSWORD = "wrong old password"
    LINK = "by a link"
    WRONG_LINK = "link does not work"


class AccountAct(TextChoices):
    """What may be done to an account."""

    MADE = "made"
    ROLE = "role changed"
    PASSWORD_SET = "password set"
    OWN_PASSWORD = "own password changed"
    DEACTIVATED = "deactivated"
    REACTIVATED = "reactivated"
    SESSIONS_ENDED = "sessions ended"
    LINK_MADE = "link made"
    LINK_WITHDRAWN = "link withdrawn"
    CALENDAR_MADE = "calendar link made"
    CALENDAR_ENDED = "calendar link ended"
