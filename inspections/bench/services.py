"""Work at the bench: readings stored, made void, marked as doubtful."""

from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max

from fleet.figures import short_day
from fleet.models import CableSegment, Fault
from fleet.services.confirmation import weighed
from fleet.services.faults import report_fault
from fleet.services.locks import hold
from fleet.validators import check_not_after

from ..assessment.services import reassess
from ..choices import MeasurementReason, Taken
from ..models import Measurement
from ..validators import TypedLoss, check_method, check_shown


@dataclass(frozen=True)
class TypedReading:
    """One loss as typed at the bench."""

    segment: CableSegment
    loss: TypedLoss
    taken: str = Taken.AS_FOUND
    note: str = ""


@dataclass(frozen=True)
class Moving:
    """A cable whose reading moved while it was flexed; `place`: at the cable (or a fold of it) or at a connector."""

    position: int
    place: str


# what a fault of that kind is reported as
MOVES = "Moves when flexed: intermittent"


@transaction.atomic
def record_readings(
    mat,
    readings,
    *,
    by,
    on,
    measured_on,
    frequency_mhz=None,
    temperature_c=None,
    instrument=None,
    measured_by="",
    reason=MeasurementReason.ROUTINE,
    method="",
    moving=(),
):
    """Store the readings of one mat, all or none, each with the next free repeat of its segment and day; report a fault
    of each position that is `moving`, unless such a fault is open there.

    Raises ValidationError for what an instrument of its kind cannot have shown of cables connected by that `method`.
    """
    check_not_after(measured_on, on, "day of measuring")
    if not readings:
        raise ValidationError("Type at least one loss.", code="empty")
    hold(mat, *(typed.segment for typed in readings))
    _check_in_mat(mat, readings, measured_on)
    _check_can_be_shown(readings, instrument, method)
    rows = [
        Measurement(
            segment=typed.segment,
            measured_on=measured_on,
            loss_db=typed.loss.loss_db,
            no_signal=typed.loss.no_signal,
            go_no_go=typed.loss.go_no_go,
            method=method,
            taken=typed.taken,
            note=typed.note,
            frequency_mhz=frequency_mhz,
            temperature_c=temperature_c,
            instrument=instrument,
            measured_by=measured_by,
            reason=reason,
            recorded_by=by,
        )
        for typed in readings
    ]
    for row in rows:
        row.clean_fields(exclude=["segment", "instrument", "recorded_by"])
    number_repeats(rows)
    Measurement.objects.bulk_create(rows)
    reassess([row.segment_id for row in rows], on=on)
    _report_moving(mat, moving, by=by, on=on, reported_on=measured_on)
    return rows


@transaction.atomic
def void_reading(reading, *, by, on, reason, seen_version=None, confirmed=None):
    """From `on` the reading counts no longer; it stays in every list with the reason."""
    need_reason(reason)
    hold(reading.segment, reading)
    if reading.voided_on is not None:
        raise ValidationError(f"This reading is void since {short_day(reading.voided_on)} already.")
    check_not_after(reading.measured_on, on, "day of this reading")
    values = {"voided_on": on, "void_reason": reason}
    return _correct(reading, seen_version, confirmed, by=by, on=on, reason=reason, **values)


def mark_doubtful(reading, *, by, on, reason, seen_version=None, confirmed=None):
    """The reading keeps its verdict, stays out of the trend, and asks for a new one."""
    need_reason(reason)
    return _correct(reading, seen_version, confirmed, by=by, on=on, reason=reason, doubt_reason=reason)


def clear_doubt(reading, *, by, on, reason, seen_version=None, confirmed=None):
    """The reading is doubtful no longer; the reason stays in the trail."""
    need_reason(reason)
    return _correct(reading, seen_version, confirmed, by=by, on=on, reason=reason, doubt_reason="")


@transaction.atomic
def _correct(reading, seen_version, confirmed, *, by, on, reason, **values):
    hold(reading.segment, reading)
    with weighed(reading.segment, on=on, confirmed=confirmed):
        reading.correct(by=by, reason=reason, seen_version=seen_version, **values)
    reassess([reading.segment_id], on=on)
    return reading


def need_reason(reason):
    if not reason.strip():
        raise ValidationError({"reason": "Say why: the reason stays beside the reading."})


def taken_on(day, fitted_on, taken):
    """What is measured as found on the day of fitting is the reading at fitting, and on no other day.

    `fitted_on` None: that day is not known for certain.
    """
    if taken == Taken.AFTER_CLEANING:
        return taken
    return Taken.AT_FITTING if fitted_on == day else Taken.AS_FOUND


def _check_in_mat(mat, readings, measured_on):
    fitted = set(mat.fittings.current(measured_on).values_list("segment_id", flat=True))
    strangers = sorted({typed.segment.serial for typed in readings if typed.segment.pk not in fitted})
    if strangers:
        raise ValidationError(
            f"Not in {mat} on {short_day(measured_on)}: {', '.join(strangers)}. Change the day, or empty the field."
        )


def _check_can_be_shown(readings, instrument, method):
    """A form says it at the field, this stands behind every form."""
    kind = instrument.kind if instrument else ""
    check_method(kind, method)
    for typed in readings:
        check_shown(kind, method, typed.loss)


def _report_moving(mat, moving, *, reported_on, **who):
    open_ones = Fault.objects.filter(mat=mat, what=MOVES, ended_on=None).values_list("position", "place")
    told = set(open_ones) if moving else set()
    for each in moving:
        if (each.position, each.place) not in told:
            report_fault(mat, place=each.place, position=each.position, what=MOVES, reported_on=reported_on, **who)


def number_repeats(rows):
    """Each gets the next free repeat of its segment and day."""
    places = {(row.segment_id, row.measured_on) for row in rows}
    same = Measurement.objects.filter(
        segment__in={segment for segment, _day in places}, measured_on__in={day for _segment, day in places}
    )
    numbers = same.order_by().values_list("segment", "measured_on").annotate(Max("repeat"))
    last = {(segment, day): number for segment, day, number in numbers}
    for row in rows:
        place = row.segment_id, row.measured_on
        row.repeat = last[place] = last.get(place, 0) + 1
