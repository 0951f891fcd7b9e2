"""How a new cable with a serial comes to the shelf: from outside, or out of those that are counted there."""

from dataclasses import dataclass

from django.core.exceptions import ValidationError

from ..choices import StockReason
from ..figures import two_places
from ..models import Depot, StockEntry
from ..models.stock import Pile
from .ledger import enter
from .shelf_of_segments import Told, follow_register


@dataclass(frozen=True)
class Arrival:
    """`counted`: it lay there and was counted before it had a serial; None: where such cables lie, it is one of them.

    `depot`: where it comes to, or where it is taken from before other depots.
    """

    depot: Depot | None = None
    counted: bool | None = False

    def pile_of(self, *, cable_type, length_m, lot="", **values):
        """The pile that a cable of this kind is taken from; None: it comes from outside.

        Raises ValidationError where it must be one of several lots and none is named, and where none lies there.
        """
        if self.counted is False:
            return None
        pile = _pile_to_take_from(cable_type, length_m, lot, self.depot)
        if pile is None and self.counted:
            sentence = f"No {two_places(length_m)} m of {cable_type} is counted on the shelf without a serial."
            raise ValidationError(f"{sentence} Leave the tick out, or count what lies there first.")
        return pile


# from outside, to a depot that nobody has named
NEW = Arrival()


def come_to_shelf(segment, arrival, pile, *, by, on):
    """Enter a segment that was added just now: received, or one less of the pile and the segment in its stead."""
    if pile is None:
        told = Told(reason=StockReason.RECEIVED, depot=arrival.depot)
    else:
        enter([pile.entry(-1, day=on, reason=StockReason.MOVED, note=f"now {segment}")], by=by)
        told = Told(reason=StockReason.MOVED, depot=pile.depot, note="it was counted there without a serial")
    follow_register([segment.pk], by=by, on=on, told=told)


def _pile_to_take_from(cable_type, length_m, lot, depot):
    """The nearest: at that depot, where nobody said, elsewhere; there of that lot, else of one that nobody named."""
    piles = _piles_of_kind(cable_type, length_m, lot)
    if not piles:
        return None
    nearest = min(piles, key=lambda pile: _far(pile, depot)).depot
    there = [pile for pile in piles if pile.depot == nearest]
    if lot or len(there) == 1:
        return max(there, key=lambda pile: pile.lot == lot)
    lots = ", ".join(pile.lot or "one that nobody named" for pile in there)
    sentence = f"{two_places(length_m)} m of {cable_type} lie {there[0].where} from several lots: {lots}."
    raise ValidationError(f"{sentence} Write the lot of the new cable.")


def _piles_of_kind(cable_type, length_m, lot):
    counts = StockEntry.objects.without_serial().of_kind(cable_type, length_m).counts("depot", "lot")
    found = [(depot, of_lot) for depot, of_lot, _ in counts if not lot or of_lot in (lot, "")]
    depots = Depot.objects.in_bulk({depot for depot, _ in found if depot})
    return [Pile(cable_type, length_m, depots.get(depot), of_lot) for depot, of_lot in found]


def _far(pile, depot):
    if pile.depot is None:
        return (1, "")
    return (0, "") if pile.depot == depot else (2, pile.depot.name)
