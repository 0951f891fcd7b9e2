from .access import Access
from .codes import RenamedCode
from .mats import Depot, DesignPosition, Fault, Mat, MatDesign
from .notes import Note
from .segments import CableSegment, CableType, Fitting
from .series import EventSeries
from .trail import Load, Submission
from .usage import Event, MatDay, UsageEvent

__all__ = [
    "Access",
    "CableSegment",
    "CableType",
    "Depot",
    "DesignPosition",
    "Event",
    "EventSeries",
    "Fault",
    "Fitting",
    "Load",
    "Mat",
    "MatDay",
    "MatDesign",
    "Note",
    "RenamedCode",
    "Submission",
    "UsageEvent",
]
