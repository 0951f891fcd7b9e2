"""What is known of one segment's condition."""

from dataclasses import dataclass

from ...choices import Taken
from ...models import Assessment


@dataclass(frozen=True)
class ComparedReading:
    """A reading at the reference frequency and 20 °C; `reference_loss_db` None: no signal.

    `counts` is False for one that is void, and for *as found* where the same day has one *after cleaning*.
    """

    day: object
    reference_loss_db: float | None
    counts: bool


def assessment_of(segment, on):
    """The segment's assessment with the open work order it stands on; None for what is fitted in no mat in service."""
    rows = Assessment.objects.filter(segment=segment).select_related("before_event", "mat__design")
    return rows.with_open_order(on).first()


def compared_readings(lines):
    """Those of `readings_of_segment` that can be compared, oldest first."""
    cleaned = {
        line.reading.measured_on for line in lines if line.reading.taken == Taken.AFTER_CLEANING and not line.is_void
    }
    return [
        ComparedReading(
            line.reading.measured_on,
            line.judgement.reference_loss_db,
            not line.is_void
            and not (line.reading.taken != Taken.AFTER_CLEANING and line.reading.measured_on in cleaned),
        )
        for line in sorted(lines, key=lambda line: (line.reading.measured_on, line.reading.repeat))
        if line.judgement.compared
    ]
