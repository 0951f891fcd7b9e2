"""The assessment and the readings of one segment."""

from dataclasses import dataclass

from ...choices import Taken
from ...models import Assessment


@dataclass(frozen=True)
class ComparedReading:
    """A reading at the reference frequency and 20 °C.

    It comes with its standard uncertainty; `reference_loss_db` None: no signal.
    `counts` is False for one that is void, for one of a bench day that is not to be trusted, and for *as found* where
    the same day has one *after cleaning*; `doubtful` ones count in the verdict only. `instrument_id` None: not on
    record.
    """

    day: object
    reference_loss_db: float | None
    uncertainty_db: float
    counts: bool
    doubtful: bool
    instrument_id: int | None


def assessment_of(segment, on):
    """The segment's assessment with the open work order it stands on; None for what is fitted in no mat in service."""
    rows = Assessment.objects.filter(segment=segment).select_related("before_event", "mat__design")
    return rows.with_open_order(on).first()


def compared_readings(readings):
    """Those of `readings_of_segment` that can be compared, oldest first."""
    cleaned = {
        shown.reading.measured_on
        for shown in readings
        if shown.reading.taken == Taken.AFTER_CLEANING and not shown.is_void and shown.judgement.compared
    }
    return [
        ComparedReading(
            shown.reading.measured_on,
            shown.judgement.reference_loss_db,
            shown.judgement.uncertainty_db,
            not shown.is_void
            and not _is_distrusted(shown.judgement)
            and not (shown.reading.taken != Taken.AFTER_CLEANING and shown.reading.measured_on in cleaned),
            bool(shown.reading.doubt_reason),
            shown.reading.instrument_id,
        )
        for shown in sorted(readings, key=lambda shown: (shown.reading.measured_on, shown.reading.repeat))
        if _is_on_the_scale(shown.judgement)
    ]


def _is_on_the_scale(judgement):
    """A tester's word is not; no signal is, above all. A loss is also where its bench day gives no verdict."""
    told = judgement.compared or (judgement.withheld is not None and judgement.reference_loss_db is not None)
    return told and not judgement.go_no_go


def _is_distrusted(judgement):
    return judgement.withheld is not None and bool(judgement.withheld.not_trusted)
