"""A batch is begun, its values are kept one by one, and it is ended: what is fit and has a serial goes on the shelf."""

from collections import Counter
from itertools import count

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max

from fleet.choices import SerialBasis
from fleet.figures import short_day
from fleet.models import CableSegment
from fleet.selectors.numbering import SERIAL, next_free_serials
from fleet.services.arrivals import Arrival
from fleet.services.locks import hold, hold_pool
from fleet.services.register import add_segment
from fleet.services.rows import add_row, check_day, correct_row

from ..assessment.services import reassess
from ..bench.services import need_reason
from ..choices import MeasurementReason, Taken
from ..models import Batch, BatchValue, Measurement
from ..models.batches import MOST_CABLES
from ..validators import check_shown
from .selectors import batch_page


@transaction.atomic
def start_batch(*, by, on, **values):
    """The next batch of the year, numbered."""
    hold_pool()
    check_day("measured_on", values["measured_on"], on, "day of measuring")
    number = Batch.objects.highest_running(f"B-{on.year}-") + 1
    return add_row(Batch, by=by, number=f"B-{on.year}-{number}", **values)


@transaction.atomic
def correct_batch(batch, *, by, on, reason="", seen_version=None, **values):
    """What holds for all its cables; they are judged anew by it. Refused when it is ended."""
    hold(batch)
    _refuse_ended(batch)
    check_day("measured_on", values.get("measured_on", batch.measured_on), on, "day of measuring")
    _check_can_be_shown(batch, **values)
    return correct_row(batch, by=by, reason=reason, seen_version=seen_version, **values)


@transaction.atomic
def enter_value(batch, loss, *, by, cable=None, serial="", number_on=False):
    """Keep one value: of the next cable, or of `cable` read again; returns it.

    `number_on`: the cable gets the next free serial. Raises ValidationError for a batch that is ended, a cable that is
    not in it, and a serial that another cable has, at the field of the form.
    """
    hold_pool() if serial or number_on else hold(batch)
    batch.refresh_from_db()
    _refuse_ended(batch)
    highest = batch.values.aggregate(highest=Max("cable"))["highest"] or 0
    _check_cable(cable, highest)
    if cable is None and number_on and not serial:
        serial = _next_serial()
    elif serial:
        _check_serial(serial, batch, cable)
    attempt = batch.values.filter(cable=cable).count() + 1 if cable else 1
    value = BatchValue(
        batch=batch,
        cable=cable or highest + 1,
        attempt=attempt,
        loss_db=loss.loss_db,
        no_signal=loss.no_signal,
        go_no_go=loss.go_no_go,
        serial=serial,
        recorded_by=by,
    )
    value.full_clean(exclude=["batch", "recorded_by"])
    value.save()
    return value


@transaction.atomic
def strike_value(value, *, by, on, reason, seen_version=None):
    """The value counts no longer and stays on the page with the reason."""
    need_reason(reason)
    hold(value.batch, value)
    _refuse_ended(value.batch)
    if value.struck_on is not None:
        raise ValidationError(f"This value was struck on {short_day(value.struck_on)} already.")
    return value.correct(by=by, reason=reason, seen_version=seen_version, struck_on=on, strike_reason=reason.strip())


@transaction.atomic
def end_batch(batch, *, by, on, counted=False, seen_version=None):
    """No value can come any more; what is fit and has a serial is on the shelf, measured. Returns these segments.

    `counted`: they are among those that are counted there without a serial, as far as there are so many.
    """
    hold_pool()
    batch.refresh_from_db()
    _refuse_ended(batch)
    page = batch_page(batch, on)
    if not page.judged:
        raise ValidationError("No value stands in it yet. Type one first.", code="empty")
    going = page.going_on_shelf
    _check_free([cable.serial for cable in going])
    segments = [_on_shelf(batch, cable, counted, by, on) for cable in going]
    reassess([segment.pk for segment in segments], on=on)
    batch.correct(by=by, reason="ended", seen_version=seen_version, ended_on=on, judged=page.kept())
    return segments


def _on_shelf(batch, cable, counted, by, on):
    segment = add_segment(
        by=by,
        on=on,
        arrival=Arrival(batch.depot, counted=None if counted else False),
        serial=cable.serial,
        serial_basis=SerialBasis.OWN,
        cable_type=batch.cable_type,
        length_m=batch.length_m,
        lot=batch.lot,
    )
    newest = cable.newest.value
    again = f", reading {len(cable.reads)}" if cable.before else ""
    reading = Measurement(
        segment=segment,
        measured_on=batch.measured_on,
        loss_db=newest.loss_db,
        no_signal=newest.no_signal,
        go_no_go=newest.go_no_go,
        method=batch.method,
        frequency_mhz=batch.frequency_mhz,
        temperature_c=batch.temperature_c,
        instrument=batch.instrument,
        measured_by=batch.measured_by,
        taken=Taken.AS_FOUND,
        reason=MeasurementReason.NEW if batch.is_new else MeasurementReason.ROUTINE,
        note=f"batch {batch}, cable {cable.number}{again}",
        recorded_by=by,
    )
    reading.full_clean(exclude=["segment", "instrument", "recorded_by"])
    reading.save()
    BatchValue.objects.filter(pk=newest.pk).update(segment=segment)
    return segment


def _check_can_be_shown(batch, *, instrument=None, method="", **others):
    """What stands in a batch fits the instrument and method that it is said to be measured with."""
    kind = instrument.kind if instrument else ""
    for value in batch.values.standing():
        try:
            check_shown(kind, method, value.loss)
        except ValidationError as error:
            way_out = "Strike it first, or choose the instrument that showed it."
            raise ValidationError({"instrument": f"Cable {value.cable} reads {value.said}. {way_out}"}) from error


def _refuse_ended(batch):
    if batch.ended_on is not None:
        raise ValidationError(
            f"{batch} was ended on {short_day(batch.ended_on)}. Start another batch for more cables.", code="closed"
        )


def _check_cable(cable, highest):
    if cable is not None and not 1 <= cable <= highest:
        there = f"It holds cables 1 to {highest}." if highest else "No cable is in it yet."
        raise ValidationError({"loss": f"Cable {cable} is not in this batch. {there}"})
    if cable is None and highest >= MOST_CABLES:
        raise ValidationError({"loss": f"A batch holds up to {MOST_CABLES:,} cables. Start another one."})


def _check_serial(serial, batch, cable):
    taken = CableSegment.objects.named(serial).first()
    if taken is not None:
        sentence = f"There is a cable {taken.serial} in the pool already. Write another serial, or leave it empty."
        raise ValidationError({"serial": sentence})
    others = BatchValue.objects.standing().filter(serial__iexact=serial, segment=None).select_related("batch")
    if cable is not None:
        others = others.exclude(batch=batch, cable=cable)
    other = others.filter(batch__ended_on=None).first()
    if other is not None:
        raise ValidationError(
            {"serial": f"Cable {other.cable} of {other.batch} has the serial {other.serial} already."}
        )


def _check_free(serials):
    taken = [row.serial for serial in serials if (row := CableSegment.objects.named(serial).first())]
    twice = [serial for serial, times in Counter(serial.casefold() for serial in serials).items() if times > 1]
    if twice:
        raise ValidationError(f"Two cables of this batch have one serial: {', '.join(twice)}. Read one with its own.")
    if taken:
        raise ValidationError(
            f"In the pool already: {', '.join(taken)}. Read that cable again with another serial, or strike its value."
        )


def _next_serial():
    """Above those on the register and those that wait in open batches."""
    (first,) = next_free_serials(1)
    waiting = BatchValue.objects.standing().filter(segment=None, batch__ended_on=None, serial__istartswith=SERIAL)
    taken = {serial.upper() for serial in waiting.values_list("serial", flat=True)}
    numbers = count(int(first.removeprefix(SERIAL)))
    return next(serial for number in numbers if (serial := f"{SERIAL}{number:05d}") not in taken)
