"""The condition of mats, one rule for every page: should not go by a day, asks for something, or nothing is due."""

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import Min

from fleet.models import DesignPosition

from ..models import Assessment
from ..numeric.words import Status
from .unfit import ASKED, Unfit, UnfitMats


@dataclass(frozen=True)
class Place:
    """One position of a mat and the status of the cable in it; None: it holds none."""

    number: int
    status: Status | None


@dataclass(frozen=True)
class MatCondition:
    """Of one mat by a day. `status`: the worst of its cables, *change now* where `unfit` says that it should not go.

    None: no cable of it is assessed. `due_on`: the first day on which one of its cables is to be changed; `event`: the
    name of the soonest event before which one is.
    """

    status: Status | None
    unfit: Unfit | None = None
    places: tuple[Place, ...] = ()
    due_on: date | None = None
    event: str = ""

    @property
    def cables(self):
        """{status: number of cables} of those for which it is not unfit already."""
        said = {*self.unfit.due, *self.unfit.damaged} if self.unfit else ()
        return Counter(place.status for place in self.places if place.number not in said)


class MatStatuses:
    """The worst of each of these mats by a day, without its positions: a number of queries that no pool makes grow.

    `mats`: a queryset; `known`: UnfitMats of them, where they were read already. `of`: {mat id: Status, or None};
    `unfit`: {mat id: Unfit}.
    """

    def __init__(self, mats, day, known=None):
        known = known or UnfitMats(mats.order_by().values("pk"), day, day)
        worst = dict(mats.order_by().values_list("pk").annotate(worst=Min("assessments__urgency")))
        self.unfit = {mat: why for mat in worst if (why := known.why(mat, day))}
        self.of = {mat: self._status(mat, urgency) for mat, urgency in worst.items()}

    def _status(self, mat, worst):
        return Status.CHANGE_NOW if mat in self.unfit else worst and Status.of_order(worst)

    @property
    def counts(self):
        """{status: number of mats}, the worst first; those of which nothing is assessed are left out."""
        counted = Counter(self.of.values())
        return {status: counted[status] for status in Status if counted[status]}

    def of_status(self, status):
        """Their keys."""
        return [mat for mat, each in self.of.items() if each == status]

    def conditions(self, mat_ids, on):
        """{mat id: MatCondition} of these few, position by position; two queries."""
        rows = Assessment.objects.filter(mat__in=mat_ids).only(*ASKED, "wanted_on", "before_event__name")
        of_mats, places = defaultdict(list), _empty_places(mat_ids, on)
        for row in rows.select_related("before_event").order_by("position"):
            of_mats[row.mat_id].append(row)
            places[row.mat_id].append(Place(row.position, row.status))
        return {mat: self._condition(mat, of_mats[mat], places[mat]) for mat in mat_ids}

    def _condition(self, mat, rows, places):
        wanted = [row for row in rows if row.wanted_on]
        return MatCondition(
            self.of[mat],
            self.unfit.get(mat),
            tuple(sorted(places, key=lambda place: place.number)),
            min((row.due_on for row in rows if row.due_on and not row.to_measure), default=None),
            min(wanted, key=lambda row: row.wanted_on).before_event.name if wanted else "",
        )


def _empty_places(mat_ids, on):
    """{mat id: [Place]} of the positions that hold no cable."""
    empty = defaultdict(list)
    for mat, number in DesignPosition.objects.empty(on).filter(mat__in=mat_ids).values_list("mat", "number"):
        empty[mat].append(Place(number, None))
    return empty
