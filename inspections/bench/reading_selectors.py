"""Readings of a segment or a mat, newest first, each with what it means."""

from dataclasses import dataclass
from functools import partial

from django.shortcuts import get_object_or_404

from ..assessment.bench_day_selectors import withheld_on
from ..assessment.policy_in_force import current_policy
from ..models import Measurement
from ..validators import TypedLoss
from .verdicts import Judgement, criteria_of


@dataclass(frozen=True)
class ShownReading:
    """One reading as a list shows it. `position` is where the segment was when it was measured (None: on no mat)."""

    reading: Measurement
    judgement: Judgement
    position: int | None
    is_void: bool


@dataclass(frozen=True)
class ReadTogether:
    """Readings of a mat read on one day in one way, by position; `first`: one of them, that says day and way."""

    rows: tuple[ShownReading, ...]

    @property
    def first(self):
        return self.rows[0].reading


def read_together(readings):
    """ReadTogether of ShownReadings, in the order in which the first of each comes."""
    groups = {}
    for shown in readings:
        groups.setdefault(_way_of(shown.reading), []).append(shown)
    return [ReadTogether(tuple(rows)) for rows in groups.values()]


def _way_of(reading):
    by = reading.measured_by or reading.recorded_by_id
    return reading.measured_on, reading.instrument_id, reading.frequency_mhz, by


def readings_of_segment(segment, on):
    """All readings made by `on`, newest first, judged by the design of the mat that it is in."""
    fittings = list(segment.fittings.select_related("mat"))
    design_id = next((f.mat.design_id for f in fittings if f.covers(on)), None)
    readings = segment.measurements.filter(measured_on__lte=on).with_register().order_by("-measured_on", "repeat")
    return _shown(readings, fittings, design_id, on)


def readings_of_mat(mat, on):
    """All readings made by `on` of segments while they were in this mat, newest first, then by position."""
    fittings = list(mat.fittings.all())
    readings = (
        Measurement.objects.filter(segment__in=mat.fittings.values("segment"), measured_on__lte=on)
        .with_register()
        .order_by("-measured_on", "repeat")
    )
    here = [shown for shown in _shown(readings, fittings, mat.design_id, on) if shown.position is not None]
    return sorted(
        here, key=lambda shown: (-shown.reading.measured_on.toordinal(), shown.position, shown.reading.repeat)
    )


def get_reading_or_404(pk):
    return get_object_or_404(Measurement.objects.with_register(), pk=pk)


def judged(reading, criteria, withheld=None):
    """`withheld`: of `withheld_from`, which says what bench days give no verdict; None: they all do."""
    loss = TypedLoss.of_reading(reading)
    judgement = criteria.judge(loss, reading.frequency_mhz, reading.temperature_c, reading.instrument, reading.method)
    return judgement.withheld_for((withheld or {}).get((reading.measured_on, reading.instrument_id)))


def withheld_from(readings, on):
    """{(day, instrument's key or None): Withheld} of the bench days of these readings that give no verdict."""
    return withheld_on(on, {(reading.measured_on, reading.instrument_id) for reading in readings})


def _shown(readings, fittings, design_id, on):
    readings, criteria = list(readings), criteria_of(current_policy(), design_id)
    withheld = withheld_from(readings, on)
    shown = partial(_shown_reading, fittings=fittings, criteria=criteria, withheld=withheld, on=on)
    return [shown(reading) for reading in readings]


def _shown_reading(reading, fittings, criteria, withheld, on):
    positions = (f.position for f in fittings if f.segment_id == reading.segment_id and f.covers(reading.measured_on))
    return ShownReading(
        reading=reading,
        judgement=judged(reading, criteria, withheld),
        position=next(positions, None),
        is_void=reading.voided_on is not None and reading.voided_on <= on,
    )
