"""What the pages of the first ten minutes ask."""

from dataclasses import dataclass

from fleet.models import Mat

from ..due.unknown_selectors import unknown_cables
from ..models import Assessment
from ..numeric.words import DUE


@dataclass(frozen=True)
class FirstToChange:
    """The most urgent mat and the assessed segments to change in it; `order`: they stand on it already."""

    mat: Mat
    rows: list
    order: str | None


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
