"""A yearly sample at one depot of the demo pool: drawn as everybody draws them, measured in the rounds that follow."""

from datetime import timedelta

from fleet.models import Depot, Fitting

from ..assessment.pool_fits import stored_fit
from ..assessment.services import assessments
from ..choices import MeasurementReason, SizeRule
from ..models import Measurement
from ..sampling.services import draw_sample

DEPOT = "Quay Street"
YEARS = 3
# the newest one is drawn just before the last round, so that it is half measured
DRAWN_DAYS_AGO = 8
SHARE, CONFIDENCE = 0.15, 0.9
SEED = 4_711


def draw_samples(on, *, by):
    """Draw one a year, the last a few days ago, and say of what was measured next in each mat why it was."""
    depot, fitted = Depot.objects.get(name=DEPOT), stored_fit()
    for back in range(YEARS - 1, -1, -1):
        day = on - timedelta(days=DRAWN_DAYS_AGO + 365 * back)
        sample = draw_sample(
            by=by,
            on=day,
            seed=SEED + back,
            rule=SizeRule.FINITE,
            share=SHARE,
            confidence=CONFIDENCE,
            depot=depot,
            assessed={row.segment_id: row for row in assessments(day, fitted=fitted)},
        )
        for mat in sample.mats.select_related("mat"):
            _say_why(mat.mat, day, min(on, day + timedelta(days=364)))


def _say_why(mat, first_day, last_day):
    """Its readings of the first day in that time were taken because it was drawn."""
    held = Fitting.objects.current(first_day).filter(mat=mat).values("segment")
    routine = Measurement.objects.filter(segment__in=held, reason=MeasurementReason.ROUTINE)
    next_ones = routine.filter(measured_on__range=(first_day, last_day))
    day = next_ones.order_by("measured_on").values_list("measured_on", flat=True).first()
    next_ones.filter(measured_on=day).update(reason=MeasurementReason.SAMPLE)
