"""Of a mat at the bench: the sample that waits for it, so that its readings are taken as such."""

from fleet.models import Fitting

from ..choices import MeasurementReason
from ..models import Measurement, SampledMat

# taken whatever anybody thought of the cable: these count as read for a sample
COUNTED = (MeasurementReason.SAMPLE, MeasurementReason.ROUTINE)


def sample_waiting_for(mat, on):
    """The newest running Sample that drew the mat and has cables of it to be read still; None where there is none."""
    for drawn in SampledMat.objects.of_running(mat, on):
        if _unread(drawn, on):
            return drawn.sample
    return None


def _unread(drawn, on):
    """Segments that were in the mat at the draw and are still, and were not read since."""
    there = Fitting.objects.current(on).filter(mat=drawn.mat_id).values_list("segment", flat=True)
    cables = {known["segment"] for known in drawn.cables} & set(there)
    read = Measurement.objects.valid_on(on).filter(segment__in=cables, measured_on__gte=drawn.sample.drawn_on)
    return cables - set(read.filter(reason__in=COUNTED).values_list("segment", flat=True))
