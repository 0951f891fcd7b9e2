"""Which mats should not go out by a day, and why: cables due by then, or something that holds the mat back."""

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Count

from fleet.choices import FaultPlace
from fleet.models import DesignPosition, Fault
from fleet.parsing.counts import counted, listed

from ..models import Assessment
from ..numeric.words import Status

FAULT_WORDS = {FaultPlace.WET: "wet", FaultPlace.WHOLE_MAT: "damaged", FaultPlace.NOT_KNOWN: "has a fault"}
IN_DOUBT = {Status.MEASURE: "to measure", Status.UNKNOWN: "unknown"}
MOST_NAMED = 3
# the columns of an assessment that `unfit_from` looks at
ASKED = (
    "mat_id",
    "position",
    "urgency",
    "measure_reason",
    "age_applies",
    "events_applies",
    "trend_from",
    "trend_no_date_reason",
    *(f"{each}due_on" for each in ("", "damage_", "loss_", "trend_", "events_", "age_")),
)


@dataclass(frozen=True)
class Unfit:
    """Why a mat should not go. `damaged` and `due`: positions; `faults`: their places; `empty`: positions."""

    faults: tuple = ()
    empty: tuple = ()
    damaged: tuple = ()
    due: tuple = ()

    def __str__(self):
        return ", ".join(dict.fromkeys(self._parts()))

    def _parts(self):
        yield from (FAULT_WORDS.get(place, f"{place} damaged") for place in self.faults)
        if self.empty:
            yield _positions("empty position", self.empty)
        if self.damaged:
            yield f"{_positions('cable', self.damaged)} damaged"
        if self.due:
            yield f"{counted(len(self.due), 'cable')} due"


class UnfitMats:
    """What is known of these mats from the first to the last day, read once; `why` asks without a query.

    `mat_ids` None: of all mats. Three queries.
    """

    def __init__(self, mat_ids, first, last):
        of_mats = {} if mat_ids is None else {"mat__in": mat_ids}
        self.cables, self.faults, self.empty = defaultdict(list), defaultdict(list), defaultdict(list)
        self._add_cables(Assessment.objects.filter(due_on__lte=last, **of_mats))
        faults = Fault.objects.holding_back(first).filter(**of_mats).order_by("reported_on", "number")
        for mat, place, ended_on in faults.values_list("mat", "place", "ended_on"):
            self.faults[mat].append((place, ended_on))
        empty = DesignPosition.objects.empty(first).filter(**of_mats)
        for mat, position in empty.values_list("mat", "number"):
            self.empty[mat].append(position)

    def _add_cables(self, due):
        """(position, day from which it should not go, day of its damage) by mat, in the order of their positions."""
        for row in due.order_by("position").values(*ASKED):
            # only of those to measure it may be another day than the due date: they are few, and all others need no row
            asks = row["urgency"] == Status.MEASURE.order
            since = Assessment(**row).unfit_from if asks else row["due_on"]
            self.cables[row["mat_id"]].append((row["position"], since, row["damage_due_on"]))

    def why(self, mat_id, day):
        """An Unfit; None where the mat may go."""
        due = [(position, damaged) for position, since, damaged in self.cables[mat_id] if since and since <= day]
        broken = tuple(position for position, damaged_on in due if damaged_on and damaged_on <= day)
        unfit = Unfit(
            tuple(place for place, until in self.faults[mat_id] if until is None or until > day),
            tuple(self.empty[mat_id]),
            broken,
            tuple(position for position, _ in due if position not in broken),
        )
        return None if unfit == Unfit() else unfit

    def since(self, mat_id, first, last):
        """The first day of these on which it should not go; None: it may go on all.

        What holds it back is taken to stay.
        """
        if self.why(mat_id, first):
            return first
        days = (since for _, since, _ in self.cables[mat_id] if since and since <= last)
        return min(days, default=None)


def unfit_by(mats, day):
    """{mat id: Unfit} of those of these mats that should not go by that day; three queries, however many they are."""
    ids = [mat.pk for mat in mats]
    known = UnfitMats(ids, day, day)
    return {mat_id: why for mat_id in ids if (why := known.why(mat_id, day))}


def doubts_of(mats):
    """{mat id: words} of those of these mats that have cables to measure, or unknown ones; one query."""
    asking = Assessment.objects.of_status(*IN_DOUBT).filter(mat__in=[mat.pk for mat in mats])
    counts, of_mats = asking.order_by().values_list("mat", "urgency").annotate(cables=Count("pk")), defaultdict(dict)
    for mat, urgency, cables in counts:
        of_mats[mat][Status.of_order(urgency)] = cables
    return {mat: ", ".join(doubts_in_words(counted_by)) for mat, counted_by in of_mats.items()}


def doubts_in_words(cables):
    """What is not known, in short. `cables`: {status: number of cables}."""
    return [f"{cables[status]} {words}" for status, words in IN_DOUBT.items() if cables.get(status)]


def _positions(words, numbers):
    if len(numbers) > MOST_NAMED:
        return f"{len(numbers)} {words}s"
    return f"{words}{'s' if len(numbers) > 1 else ''} {listed(list(map(str, numbers)))}"
