"""What a keeper can do for the trend: cables to measure again, and what more readings would help."""

from dataclasses import dataclass

from django.db.models import Count, Q

from ..models import Assessment
from ..models.assessments import READINGS_OF_A_RISE
from ..numeric.words import MeasureReason, TrendFrom

IN_SIGHT = 8


@dataclass(frozen=True)
class ToDo:
    """`again`: assessments whose newest reading departs, or whose readings fall, by mat and position.

    `cables`: those in service; `similar_due`: due by similar cables alone; `rate_not_own`: with too few readings for a
    rate of their own; `never_read`: without a reading that counts.
    """

    again: tuple[Assessment, ...]
    cables: int
    similar_due: int
    rate_not_own: int
    never_read: int

    @property
    def again_in_sight(self):
        return self.again[:IN_SIGHT]

    @property
    def again_folded(self):
        return self.again[IN_SIGHT:]


def to_do():
    again = Assessment.objects.off_trend().with_register().order_by("mat__number", "position")
    few = Q(trend_readings__lt=READINGS_OF_A_RISE) & ~Q(trend_from="")
    counts = Assessment.objects.aggregate(
        cables=Count("pk"),
        similar_due=Count("pk", filter=Q(measure_reason=MeasureReason.SIMILAR_DUE)),
        rate_not_own=Count("pk", filter=few),
        never_read=Count("pk", filter=Q(trend_from=TrendFrom.SIMILAR)),
    )
    return ToDo(tuple(again), **counts)
