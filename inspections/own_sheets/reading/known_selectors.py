"""What the pool has on record already, as much of it as sheets are held against: read once, no query a row."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date

from fleet.choices import AcquiredBasis
from fleet.models import (
    CableSegment,
    CableType,
    Depot,
    DesignPosition,
    Event,
    Fitting,
    Mat,
    MatDesign,
    Note,
    UsageEvent,
)
from fleet.parsing.approximate_dates import given_span
from fleet.selectors.numbering import NOTE, SERIAL, next_free_note, next_free_serials
from fleet.selectors.usage import next_free_code

from ...choices import SETTINGS
from ...models import Instrument
from .untouched_selectors import untouched_cables


@dataclass(frozen=True)
class KnownMat:
    """A mat with its design's code; `pk` and `in_use` are what lists of mats ask for.

    `since`: the first day on which the pool can have had it; None where nobody knows.
    """

    number: str
    design: str
    withdrawn_on: date | None = None
    stored: bool = True
    since: date | None = None

    @property
    def pk(self):
        return self.number

    def in_use(self, on):
        return self.withdrawn_on is None or self.withdrawn_on > on


@dataclass(frozen=True)
class KnownPlace:
    """What a design has in a position."""

    length_m: float
    cable_type: str
    length_basis: str


@dataclass(frozen=True)
class KnownDesign:
    """`places`: {position: KnownPlace}; `in_use` on the day that was asked."""

    code: str
    width_m: float | None
    places: dict[int, KnownPlace] = field(default_factory=dict)
    in_use: bool = True
    stored: bool = True


@dataclass(frozen=True)
class KnownCable:
    """A cable. `untouched`: the app made it, and nothing else is known of it but readings from `first_read` on."""

    serial: str
    cable_type: str
    length_m: float
    untouched: bool = False
    first_read: date | None = None


@dataclass(frozen=True)
class KnownStay:
    """A cable in a position for a time; still there without `removed_on`."""

    serial: str
    mat: str
    position: int
    fitted_on: date
    basis: str
    removed_on: date | None = None
    stored: bool = True

    def holds_on(self, day):
        return self.fitted_on <= day and (self.removed_on is None or self.removed_on > day)


@dataclass(frozen=True)
class KnownPool:
    """The pool's register on a day. `first_serial`, `first_note` and `next_event(year)` are the next free numbers."""

    mats: list[KnownMat] = field(default_factory=list)
    designs: list[KnownDesign] = field(default_factory=list)
    cable_types: list[str] = field(default_factory=list)
    depots: list[str] = field(default_factory=list)
    cables: list[KnownCable] = field(default_factory=list)
    stays: list[KnownStay] = field(default_factory=list)
    # (code, name, first day, last day)
    events: list[tuple[str, str, date, date]] = field(default_factory=list)
    # (about, code, text)
    notes: frozenset[tuple[str, str, str]] = frozenset()
    # {(event, mat): state}
    uses: dict[tuple[str, str], str] = field(default_factory=dict)
    # {name: kind}
    instruments: dict[str, str] = field(default_factory=dict)
    # what a reading may be off by where its instrument says nothing
    reading_uncertainty_db: float = SETTINGS["reading_uncertainty_db"].default
    first_serial: int = 1
    first_note: int = 1
    next_event: Callable[[int], int] = lambda year: 1


def known_pool(on):
    """The KnownPool of the database; a dozen queries, however large it is."""
    events = list(Event.objects.order_by("pk").values_list("code", "name", "starts_on", "ends_on"))
    return KnownPool(
        mats=_mats(),
        designs=_designs(on),
        cable_types=list(CableType.objects.order_by("pk").values_list("name", flat=True)),
        depots=list(Depot.objects.order_by("pk").values_list("name", flat=True)),
        cables=_cables(),
        stays=_stays(),
        events=events,
        notes=frozenset(Note.objects.with_code_of_subject().order_by().values_list("about", "code_of_subject", "text")),
        uses={
            (event, mat): state
            for event, mat, state in UsageEvent.objects.order_by().values_list("event__code", "mat__number", "state")
        },
        instruments=dict(Instrument.objects.order_by("pk").values_list("name", "kind")),
        first_serial=_number(next_free_serials(1)[0], SERIAL),
        first_note=_number(next_free_note(), NOTE),
        next_event=_next_event,
    )


def _mats():
    rows = Mat.objects.order_by("number").values_list(
        "number", "design__code", "withdrawn_on", "acquired_on", "acquired_basis"
    )
    return [
        KnownMat(number, design, withdrawn_on, since=_first_day(acquired_on, basis))
        for number, design, withdrawn_on, acquired_on, basis in rows
    ]


def _cables():
    untouched = untouched_cables()
    rows = CableSegment.objects.order_by("pk").values_list("serial", "cable_type__name", "length_m")
    return [KnownCable(*row, row[0] in untouched, untouched.get(row[0])) for row in rows]


def _first_day(acquired_on, basis):
    span = given_span(acquired_on) if acquired_on and basis == AcquiredBasis.ABOUT else None
    return span.first if span else acquired_on


def _designs(on):
    places = {}
    rows = DesignPosition.objects.order_by("number")
    for code, number, *place in rows.values_list(
        "design__code", "number", "length_m", "cable_type__name", "length_basis"
    ):
        places.setdefault(code, {})[number] = KnownPlace(*place)
    return [
        KnownDesign(design.code, design.width_m, places.get(design.code, {}), design.in_use(on))
        for design in MatDesign.objects.order_by("pk").only("code", "width_m", "withdrawn_on")
    ]


def _stays():
    rows = Fitting.objects.order_by("fitted_on").values_list(
        "segment__serial", "mat__number", "position", "fitted_on", "fitted_basis", "removed_on"
    )
    return [KnownStay(*row) for row in rows]


def _number(code, prefix):
    return int(code.removeprefix(prefix))


def _next_event(year):
    return int(next_free_code(year).rpartition("-")[2])
