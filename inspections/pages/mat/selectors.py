"""One mat position by position, with what each cable is worth, and what holds the mat back."""

from collections import Counter
from dataclasses import dataclass
from math import isnan

from fleet.choices import FittedBasis
from fleet.models import Event, Fault
from fleet.selectors.mats import MatPosition, positions_of
from fleet.selectors.usage import next_event_of

from ...models import Assessment
from ...numeric.crossings import any_over
from ...numeric.words import DUE, Status, Verdict


@dataclass(frozen=True)
class AssessedPosition:
    """`assessment` None: the position is empty, or the mat is withdrawn."""

    place: MatPosition
    assessment: Assessment | None


@dataclass(frozen=True)
class MatState:
    """What the mat page says first. `faults` are those that hold the mat back whatever its cables are worth."""

    positions: tuple[AssessedPosition, ...]
    next_event: Event | None
    faults: tuple[Fault, ...]

    @property
    def empty(self):
        return [position.place.number for position in self.positions if position.place.fitting is None]

    @property
    def change_now(self):
        return self._of(Status.CHANGE_NOW)

    @property
    def change_before(self):
        return self._of(Status.CHANGE_BEFORE)

    @property
    def kinds_now(self):
        """{gravity of the leading cause: number of cables} of those to change now."""
        return Counter(position.assessment.gravity for position in self.change_now)

    @property
    def measure(self):
        return self._of(Status.MEASURE)

    @property
    def unknown(self):
        return self._of(Status.UNKNOWN)

    @property
    def age_not_known(self):
        return any(position.assessment.age_basis == FittedBasis.NOT_LATER_THAN for position in self.unknown)

    @property
    def assessed(self):
        """Anything that a work order could change: every cable of a mat in use."""
        return [position for position in self.positions if position.assessment]

    @property
    def due(self):
        return self._of(*DUE)

    @property
    def due_without_order(self):
        return [position for position in self.due if position.assessment.open_order is None]

    @property
    def held_back(self):
        return bool(self.faults or self.empty or self.change_now)

    @property
    def chance_any_over(self):
        """(least, most) chance that any of the cables with an estimate is over today; None where none is."""
        least, most = any_over([position.assessment.chance_over for position in self._not_measured_over])
        return None if isnan(least) else (least, most)

    @property
    def measured_over(self):
        """Known to be over by their newest reading: for these no chance is estimated."""
        return [position for position in self.assessed if position.assessment.verdict == Verdict.OVER]

    @property
    def not_estimated(self):
        """How many cables have no estimated chance: age not known, or too few readings."""
        return sum(position.assessment.chance_over is None for position in self._not_measured_over)

    @property
    def _not_measured_over(self):
        return [position for position in self.assessed if position.assessment.verdict != Verdict.OVER]

    def _of(self, *statuses):
        return [position for position in self.assessed if position.assessment.status in statuses]


def mat_state(mat, on):
    assessed = Assessment.objects.filter(mat=mat).select_related("before_event").with_open_order(on)
    by_segment = {row.segment_id: row for row in assessed}
    positions = [
        AssessedPosition(place, place.fitting and by_segment.get(place.fitting.segment_id))
        for place in positions_of(mat, on)
    ]
    return MatState(
        tuple(positions), next_event_of(mat, on), tuple(mat.faults.holding_back(on).order_by("reported_on"))
    )
