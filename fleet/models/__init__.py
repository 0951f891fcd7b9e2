from .access import Access
from .accounts import AccountChange, LogLink, Session, SignInCount, SignInTry
from .calendar_feeds import CalendarFeed
from .codes import RenamedCode
from .mats import Depot, DesignPosition, Fault, Mat, MatDesign
from .notes import Note
from .photos import FaultPhoto
from .pool import Pool
from .prices import Price
from .segments import CableSegment, CableType, Fitting
from .series import EventSeries
from .stock import StockEntry
from .trail import Load, LoadCorrection, Submission
from .usage import Event, MatDay, UsageEvent

__all__ = [
    "Access",
    "AccountChange",
    "CableSegment",
    "CableType",
    "CalendarFeed",
    "Depot",
    "DesignPosition",
    "Event",
    "EventSeries",
    "Fault",
    "FaultPhoto",
    "Fitting",
    "Load",
    "LoadCorrection",
    "LogLink",
    "Mat",
    "MatDay",
    "MatDesign",
    "Note",
    "Pool",
    "Price",
    "RenamedCode",
    "Session",
    "SignInCount",
    "SignInTry",
    "StockEntry",
    "Submission",
    "UsageEvent",
]
