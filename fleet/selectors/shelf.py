"""What lies on the shelf: cables with a serial, by the register, and those that are counted, by the ledger."""

from collections import Counter, defaultdict
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db.models import Count, Max, Min, Q, Sum
from django.http import Http404
from django.shortcuts import get_object_or_404
from django.urls import reverse

from ..figures import two_places
from ..limits import CABLE_LENGTH
from ..models import CableSegment, CableType, Depot, StockEntry
from ..models.segments import of_length
from ..models.stock import Pile, kind_length, kind_of

# of one kind with a serial, that a page lists; the list of cables shows all
MOST_CABLES = 200


@dataclass(frozen=True)
class Lying:
    """Where the ledger has a cable."""

    cable_type_id: int
    length_m: float
    depot_id: int | None


def lying_now(entries):
    """{segment's key: Lying} of those that these entries leave on the shelf."""
    places = entries.exclude(segment=None).counts("segment", "cable_type", "length_m", "depot")
    return {segment: Lying(*place) for segment, *place, _ in places}


def shelf_by_kind(on):
    """{(cable type, length in m): how many lie on the shelf}, with a serial or without."""
    return with_serial_by_kind(on) + without_serial_by_kind()


def with_serial_by_kind(on):
    """{(cable type, length in m): how many with a serial}."""
    counted = CableSegment.objects.on_shelf(on).order_by().values_list("cable_type__name", "length_m")
    shelf = Counter()
    for name, length_m, number in counted.annotate(number=Count("pk")):
        shelf[kind_of(name, length_m)] += number
    return shelf


def without_serial_by_kind():
    """{(cable type, length in m): how many without a serial}."""
    counts = StockEntry.objects.without_serial().counts("cable_type__name", "length_m")
    return Counter({(name, length_m): number for name, length_m, number in counts})


@dataclass(frozen=True)
class Kind:
    """Cables of one type and length."""

    cable_type: CableType
    length_m: float

    def __str__(self):
        return f"{two_places(self.length_m)} m of {self.cable_type}"

    @property
    def path(self):
        """The parts of an address that name it."""
        return [self.cable_type.name, f"{self.length_m:.10g}"]

    def get_absolute_url(self):
        return reverse("fleet:shelf-kind", args=self.path)

    @property
    def entries(self):
        return StockEntry.objects.of_kind(self.cable_type, self.length_m)


@dataclass(frozen=True)
class PileThere:
    """A pile and how many lie there; `first`: the number of its first entry, by which forms name it."""

    pile: Pile
    count: int
    first: int


def get_kind_or_404(name, length_m):
    """The kind of this cable type and length, which are parts of an address."""
    try:
        length_m = float(length_m)
        CABLE_LENGTH.check(length_m)
    except (ValueError, ValidationError):
        raise Http404 from None
    return Kind(get_object_or_404(CableType, name=name), kind_length(length_m))


def piles_of(kind):
    """`PileThere` of each pile of the kind in which some lie, by depot and lot; where nobody said comes last."""
    counts = kind.entries.without_serial().order_by().values_list("depot", "lot")
    counts = counts.annotate(lie_there=Sum("change"), first=Min("number")).exclude(lie_there=0)
    depots = Depot.objects.in_bulk()
    piles = [
        PileThere(Pile(kind.cable_type, kind.length_m, depots.get(depot), lot), lie_there, first)
        for depot, lot, lie_there, first in counts
    ]
    return sorted(piles, key=lambda there: (there.pile.depot is None, str(there.pile.depot), there.pile.lot))


def cables_of(kind, on):
    """The cables of the kind with a serial that are on the shelf, up to MOST_CABLES, by serial; adds `lies_at`, the
    name of the depot or "".
    """
    cables = list(_with_serial(kind, on).order_by("serial")[:MOST_CABLES])
    lying = lying_now(StockEntry.objects.filter(segment__in=cables))
    depots = dict(Depot.objects.values_list("pk", "name"))
    for cable in cables:
        place = lying.get(cable.pk)
        cable.lies_at = depots.get(place.depot_id, "") if place else ""
    return cables


def count_of(kind, on):
    """How many of the kind lie on the shelf."""
    counted = kind.entries.without_serial().aggregate(there=Sum("change"))["there"] or 0
    return counted + _with_serial(kind, on).count()


def _with_serial(kind, on):
    return CableSegment.objects.on_shelf(on).filter(of_length(kind.length_m), cable_type=kind.cable_type)


def by_depot(shelf):
    """{kind: {name of the depot, or "" where nobody said: how many}} of the kinds that `shelf_by_kind` counts."""
    places = defaultdict(Counter)
    for name, length_m, depot, number in StockEntry.objects.counts("cable_type__name", "length_m", "depot__name"):
        places[name, length_m][depot or ""] += number
    for kind, number in shelf.items():
        # cables of which the ledger knows nothing
        if rest := number - sum(places[kind].values()):
            places[kind][""] += rest
    return places


def shelf_near(depot, on):
    """What `shelf_by_kind` counts, of it what lies at the depot or where nobody said; `depot` None: all."""
    shelf = shelf_by_kind(on)
    if depot is None:
        return shelf
    return near(depot, by_depot(shelf))


def near(depot, places):
    """{(cable type, length in m): how many lie at the depot, or where nobody said} of what `by_depot` gives."""
    return Counter({kind: at[depot.name] + at[""] for kind, at in places.items()})


def lots_to_offer(kind=None):
    """Lots that are named on the register or in the ledger, for a field where one is written."""
    entries = kind.entries if kind else StockEntry.objects.all()
    segments = CableSegment.objects.filter(cable_type=kind.cable_type) if kind else CableSegment.objects.all()
    named = {*entries.values_list("lot", flat=True), *segments.values_list("lot", flat=True)}
    return sorted(named - {""})


def newest_entry():
    """The number of the newest entry of the ledger; 0 before the first."""
    return StockEntry.objects.aggregate(last=Max("number"))["last"] or 0


def cable_types_of_ledger():
    return CableType.objects.filter(stock_entries__isnull=False).distinct()


def depots_of_ledger():
    return Depot.objects.filter(stock_entries__isnull=False).distinct()


def entries_listed(*, cable_type=None, depot=None, reason="", find=""):
    """Entries of the ledger, the newest first; `find`: part of a lot, of a serial, of a work order or of a note."""
    entries = StockEntry.objects.with_names()
    if cable_type:
        entries = entries.filter(cable_type=cable_type)
    if depot:
        entries = entries.filter(depot=depot)
    if reason:
        entries = entries.filter(reason=reason)
    if find:
        entries = entries.filter(
            Q(lot__icontains=find) | Q(segment__serial__icontains=find) | Q(work_order=find) | Q(note__icontains=find)
        )
    return entries
