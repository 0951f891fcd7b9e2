"""What the page shows on which the cables of a mat are changed."""

from dataclasses import dataclass

from fleet.models import Fault
from fleet.selectors.mats import MatPosition, positions_of

from ..models import Assessment


@dataclass(frozen=True)
class ChangeRow:
    """One position. `assessment` None: it is empty, or its mat is withdrawn."""

    place: MatPosition
    assessment: Assessment | None

    @property
    def number(self):
        return self.place.number

    @property
    def fitting(self):
        return self.place.fitting

    @property
    def segment(self):
        return self.fitting and self.fitting.segment

    @property
    def is_due(self):
        return self.assessment is not None and self.assessment.is_due

    @property
    def seen(self):
        """Stands for what the page shows there."""
        return f"{self.fitting.pk}.{self.fitting.version}" if self.fitting else "empty"


def change_rows(mat, on):
    """The positions that the design has, in order; as many queries for one as for many."""
    assessed = Assessment.objects.filter(mat=mat).select_related("segment", "before_event")
    by_segment = {row.segment_id: row for row in assessed}
    places = [place for place in positions_of(mat, on) if place.specified]
    return [ChangeRow(place, place.fitting and by_segment.get(place.fitting.segment_id)) for place in places]


def faults_to_answer(mat, on):
    """Open faults that are not of one position's cable or connector: a change of cables may answer them."""
    return Fault.objects.holding_back(on).filter(mat=mat).order_by("reported_on", "number")
