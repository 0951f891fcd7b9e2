"""Which cables are needed by when, and which of them lie on the shelf."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from fleet.choices import LengthBasis
from fleet.models import DesignPosition, Fitting
from fleet.models.stock import kind_of

from ..models import Assessment


@dataclass(frozen=True)
class Need:
    """One cable that is to be there on a day: today for what is due already, stands on a work order, or is missing.

    `kind`: (cable type, length in m) of what goes in, whatever was in there.
    """

    kind: tuple[str, float]
    day: date
    estimated: bool = False
    on_order: bool = False


@dataclass(frozen=True)
class Needs:
    """`dated`: by day, those of work orders first; `segments`: keys of the cables to change among them.

    `empty`: positions without a cable among them. `bare`: positions of mats that never held a cable: not among them, as
    nobody knows whether they want any.
    """

    dated: list[Need]
    segments: set[int]
    empty: int
    bare: int


def needs_until(on, until):
    """`Needs` from today until that day, that day left out; four queries, however many there are."""
    places = _places()
    due = [_need(row, places, on) for row in _due_rows(on, until)]
    empty, bare = _empty_positions(on)
    dated = [need for _, need in due] + [Need(kind, on, estimated) for kind, estimated in empty]
    dated.sort(key=lambda need: (need.day, not need.on_order, need.kind))
    return Needs(dated, {segment for segment, _ in due}, len(empty), bare)


def _due_rows(on, until):
    """Due by then, or on an order that is in force: that will take a cable whatever its own is worth."""
    rows = Assessment.objects.with_open_order(on).filter(Q(due_on__lt=until) | Q(open_order__isnull=False))
    own = ("segment__cable_type__name", "segment__length_m", "segment__length_basis")
    return rows.order_by().values_list("segment", "mat__design", "position", *own, "due_on", "open_order")


def _need(row, places, on):
    segment, design, position, *own, due_on, order = row
    cable_type, length_m, basis = places.get((design, position), own)
    day = on if order else max(due_on, on)
    kind = kind_of(cable_type, length_m)
    return segment, Need(kind, day, basis == LengthBasis.ESTIMATED, order is not None)


def _places():
    """{(design, position): (cable type, length, basis)} of what goes in."""
    columns = ("design", "number", "cable_type__name", "length_m", "length_basis")
    return {
        (design, number): built for design, number, *built in DesignPosition.objects.order_by().values_list(*columns)
    }


def _empty_positions(on):
    """([(kind, whether its length is estimated)], positions of mats that never held a cable)."""
    held = set(Fitting.objects.order_by().values_list("mat", flat=True).distinct())
    columns = ("mat", "cable_type__name", "length_m", "length_basis")
    rows = list(DesignPosition.objects.empty(on).values_list(*columns))
    of_held = [(kind_of(*kind), basis == LengthBasis.ESTIMATED) for mat, *kind, basis in rows if mat in held]
    return of_held, len(rows) - len(of_held)
