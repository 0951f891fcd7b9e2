"""What the sheets of a keeper mean: which kind each is, where its rows stand, and what each of its columns says.

Rows and columns count from 0, as `workbooks.sheet.Sheet` counts them. `proposals` proposes a meaning, the page corrects
it, `understanding` reads by it.
"""

from dataclasses import asdict, dataclass, field, replace
from enum import StrEnum

from fleet.parsing.day_orders import DayOrder


class SheetKind(StrEnum):
    MATS = "mats"
    CABLES = "cables"
    EVENTS = "events"
    MAT_AND_EVENT = "mat and event"
    READINGS = "readings"
    READINGS_WIDE = "readings wide"
    CALENDAR = "calendar"
    LEFT_OUT = "left out"


# as the page lists them
KIND_WORDS = {
    SheetKind.MATS: "Mats: a row each mat",
    SheetKind.CABLES: "Cables: a row each cable",
    SheetKind.EVENTS: "Events: a row each event, with its mats",
    SheetKind.MAT_AND_EVENT: "Use: a row each mat and event",
    SheetKind.READINGS: "Readings: a row each reading",
    SheetKind.READINGS_WIDE: "Readings: a column each position or day",
    SheetKind.CALENDAR: "Calendar: a row each mat, a column each day, week or month",
    SheetKind.LEFT_OUT: "Not taken",
}


MAT, BUILD, WIDTH, CABLES, LENGTHS, CABLE_TYPE = "mat", "build", "width", "cables", "lengths", "cable type"
DEPOT, OWNER, ACQUIRED, WITHDRAWN, WITHDRAWAL_REASON = "depot", "owner", "acquired", "withdrawn", "withdrawal reason"
CABLES_CHANGED, NOTE, SEGMENT, POSITION, LENGTH, LOT = "cables changed", "note", "segment", "position", "length", "lot"
FITTED, REMOVED, AS_NEW_LOSS = "fitted", "removed", "as-new loss"
EVENT, CODE, STARTS, ENDS, PLACE, WEATHER, WET = "event", "code", "starts", "ends", "place", "weather", "wet"
MATS, STATE, COUNTS_FOR = "mats", "state", "counts for"
DAY, LOSS, REPEAT, FREQUENCY, TEMPERATURE = "day", "loss", "repeat", "frequency", "temperature"
INSTRUMENT, MEASURED_BY = "instrument", "measured by"
LOSS_BY_HEADING, USE_BY_HEADING = "loss by heading", "use by heading"

_OF_EVENT = (EVENT, CODE, STARTS, ENDS, PLACE, WEATHER, WET)
# {kind: fields that one of its columns may be}
FIELDS = {
    SheetKind.MATS: (
        *(MAT, BUILD, WIDTH, CABLES, LENGTHS, CABLE_TYPE, DEPOT, OWNER, ACQUIRED, WITHDRAWN),
        *(WITHDRAWAL_REASON, CABLES_CHANGED, NOTE),
    ),
    SheetKind.CABLES: (SEGMENT, MAT, POSITION, LENGTH, CABLE_TYPE, LOT, FITTED, REMOVED, AS_NEW_LOSS, NOTE),
    SheetKind.EVENTS: (*_OF_EVENT, MATS, STATE, COUNTS_FOR, NOTE),
    SheetKind.MAT_AND_EVENT: (MAT, *_OF_EVENT, STATE, COUNTS_FOR, NOTE),
    SheetKind.READINGS: (
        *(SEGMENT, MAT, POSITION, DAY, LOSS, REPEAT, FREQUENCY, TEMPERATURE, INSTRUMENT, MEASURED_BY, NOTE),
    ),
    SheetKind.READINGS_WIDE: (SEGMENT, MAT, POSITION, DAY, LOSS_BY_HEADING, INSTRUMENT, MEASURED_BY, NOTE),
    SheetKind.CALENDAR: (MAT, USE_BY_HEADING, NOTE),
    SheetKind.LEFT_OUT: (),
}
# {kind: groups of fields, of each of which the sheet needs one}
NEEDED = {
    SheetKind.MATS: ((MAT,),),
    SheetKind.CABLES: ((SEGMENT, MAT),),
    SheetKind.EVENTS: ((STARTS,), (EVENT, CODE, PLACE)),
    SheetKind.MAT_AND_EVENT: ((MAT,), (STARTS, CODE), (EVENT, CODE, PLACE)),
    SheetKind.READINGS: ((SEGMENT, MAT), (LOSS,)),
    SheetKind.READINGS_WIDE: ((SEGMENT, MAT), (LOSS_BY_HEADING,)),
    SheetKind.CALENDAR: ((MAT,), (USE_BY_HEADING,)),
    SheetKind.LEFT_OUT: (),
}
# fields that more than one column may be
OF_MANY = frozenset([NOTE, LOSS_BY_HEADING, USE_BY_HEADING])
DAY_FIELDS = frozenset([ACQUIRED, WITHDRAWN, CABLES_CHANGED, FITTED, REMOVED, STARTS, ENDS, DAY])
# {field: what the page says of it}; each is what a cell of the column says
FIELD_WORDS = {
    MAT: "Mat number",
    BUILD: "Build, by its name or code",
    WIDTH: "Width in m",
    CABLES: "How many cables",
    LENGTHS: "Lengths of its cables in m",
    CABLE_TYPE: "Cable type",
    DEPOT: "Depot",
    OWNER: "Owner",
    ACQUIRED: "Day it was bought",
    WITHDRAWN: "Day it was taken out of use",
    WITHDRAWAL_REASON: "Why it was taken out of use",
    CABLES_CHANGED: "Day its cables were last changed",
    NOTE: "Note",
    SEGMENT: "Serial of the cable",
    POSITION: "Position in the mat",
    LENGTH: "Length in m",
    LOT: "Lot",
    FITTED: "Day it was fitted",
    REMOVED: "Day it was taken out",
    AS_NEW_LOSS: "Loss when new in dB",
    EVENT: "Name of the event",
    CODE: "Code of the event",
    STARTS: "Day, or first day",
    ENDS: "Last day",
    PLACE: "Place",
    WEATHER: "Weather",
    WET: "Wet, yes or no",
    MATS: "Its mats, all in one cell",
    STATE: "Whether it went, is planned or called off",
    COUNTS_FOR: "For how many events it counts",
    DAY: "Day of the reading",
    LOSS: "Loss in dB",
    REPEAT: "Which repeat of the reading",
    FREQUENCY: "Frequency in MHz",
    TEMPERATURE: "Temperature in °C",
    INSTRUMENT: "Instrument",
    MEASURED_BY: "Who measured",
    LOSS_BY_HEADING: "Loss in dB, at the position or day of the heading",
    USE_BY_HEADING: "Use, on the day, week or month of the heading",
}


@dataclass(frozen=True)
class ColumnMeaning:
    """What a column says: a field of its sheet's kind, "" for none. `note`: kept as a note “heading: cell”."""

    index: int
    field: str = ""
    note: bool = False


@dataclass(frozen=True)
class SheetMeaning:
    """How one sheet is to be read.

    `header_row` is the row of its headings, None where it has none; rows of data are those from `first_row` up to, not
    including, `end_row`. `columns` are those that say something. `answers` holds, each only where it was asked,
    `builds` ({name of a build: {"width_m", "cables", "lengths_m": text}}), `year` (of days without one) and `day`
    (of all readings of the sheet).
    """

    sheet: str
    kind: SheetKind
    header_row: int | None = 0
    first_row: int = 1
    end_row: int = 1
    columns: tuple[ColumnMeaning, ...] = ()
    day_order: DayOrder = DayOrder.NOT_SAID
    answers: dict = field(default_factory=dict)

    @property
    def is_taken(self):
        return self.kind != SheetKind.LEFT_OUT

    @property
    def rows(self):
        return range(self.first_row, self.end_row)

    def indexes_of(self, name):
        """The columns that are this field, from the left."""
        return [column.index for column in self.columns if column.field == name]

    def index_of(self, name):
        """The first column that is this field; None where none is."""
        return next(iter(self.indexes_of(name)), None)

    @property
    def noted(self):
        """The columns that are kept as notes with their heading."""
        return [column.index for column in self.columns if column.note]

    @property
    def fields(self):
        return {column.field for column in self.columns if column.field}

    @property
    def missing(self):
        """Groups of fields of which the sheet has none and needs one."""
        return [group for group in NEEDED[self.kind] if not self.fields.intersection(group)]

    def with_answers(self, **answers):
        return replace(self, answers=self.answers | answers)


def as_json(meanings):
    """What `from_json` makes the same meanings of."""
    return [asdict(meaning) for meaning in meanings]


def from_json(rows):
    """The tuple of SheetMeaning that `as_json` wrote."""
    return tuple(_meaning_of(row) for row in rows)


def _meaning_of(row):
    columns = tuple(ColumnMeaning(**column) for column in row["columns"])
    return SheetMeaning(
        **row | {"kind": SheetKind(row["kind"]), "columns": columns, "day_order": DayOrder(row["day_order"])}
    )
