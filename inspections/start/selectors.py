"""What the pages of the first ten minutes ask."""

from dataclasses import dataclass

from fleet.choices import FittedBasis
from fleet.models import CableType, Mat, MatDesign
from fleet.models.segments import ASSUMED_CABLE
from fleet.parsing.approximate_dates import fitted_in_words
from fleet.parsing.mat_lists import NewNumbers
from fleet.parsing.numbers import CountRange
from fleet.selectors.designs import design_built_so
from fleet.services.start_here import MatGroup

from ..due.unknown_selectors import unknown_cables
from ..models import Assessment
from ..numeric.words import DUE


@dataclass(frozen=True)
class FirstToChange:
    """The most urgent mat and the assessed segments to change in it; `order`: they stand on it already."""

    mat: Mat
    rows: list
    order: str | None


@dataclass(frozen=True)
class Place:
    length_m: float
    length_is_estimated: bool


@dataclass(frozen=True)
class MatsUnderstood:
    """A group of mats as it is to be stored. `design` None: a new one is made; `times`: how often, as it was said."""

    group: MatGroup
    design: MatDesign | None
    times: CountRange | None
    listed: NewNumbers

    @property
    def places(self):
        """The positions, from the feed end."""
        return [Place(length_m, at in self.group.estimated) for at, length_m in enumerate(self.group.lengths_m, 1)]

    @property
    def age_is_unknown(self):
        """Nothing is known but that the cables are in the mat now."""
        return self.group.basis == FittedBasis.NOT_LATER_THAN and self.group.acquired_on is None

    @property
    def fitted(self):
        return fitted_in_words(self.group.fitted_on, self.group.basis)

    @property
    def acquired(self):
        group = self.group
        return fitted_in_words(group.acquired_on, group.acquired_basis) if group.acquired_on else ""


def mats_understood(answers, on):
    """A MatsUnderstood for each of the answers of the page: (kind's form, group's form, MatGroup)."""
    cable_type = CableType.objects.named(ASSUMED_CABLE).first()
    designs = {}
    for _, _, group in answers:
        built = (group.width_m, group.lengths_m, group.estimated)
        if built not in designs:
            designs[built] = design_built_so(*built, cable_type, on) if cable_type else None
    return [
        MatsUnderstood(group, designs[group.width_m, group.lengths_m, group.estimated], kind.times_said, form.listed)
        for kind, form, group in answers
    ]


def has_mats():
    return Mat.objects.exists()


def first_to_change(on):
    """The mat of the most urgent segment that is to be changed; None where none is."""
    due = Assessment.objects.of_status(*DUE).select_related("segment", "mat").with_open_order(on)
    worst = due.by_urgency().first()
    if worst is None:
        return None
    rows = list(due.filter(mat=worst.mat_id).order_by("position"))
    order = next((row.open_order for row in rows if row.open_order), None)
    return FirstToChange(worst.mat, rows, order)


def next_due_on():
    """The soonest due date of all; None where none has one. Of a cable of unknown age no day is the first."""
    known = Assessment.objects.filter(due_on__isnull=False).exclude(pk__in=unknown_cables().values("pk"))
    return known.order_by("due_on").values_list("due_on", flat=True).first()
