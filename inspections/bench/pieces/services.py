"""Reference pieces are added, agreed on and read; what hangs on one is assessed again in the same transaction."""

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Max

from fleet.figures import two_places
from fleet.services.confirmation import WantsConfirmation
from fleet.services.locks import hold
from fleet.services.rows import add_row, check_day, correct_row

from ...assessment.services import reassess
from ...models import AgreedValue, Measurement, ReferencePiece, ReferenceReading
from .selectors import shown_pieces

# A bench that is off by so much reads nothing sensibly: rather a slip of the hand, or another piece. Ours, no source.
A_SLIP_DB = 1.0
AGREED_ALREADY = "A value was agreed on that day already. Correct that one, or write another day."


@transaction.atomic
def add_piece(*, by, on, name, depot=None, agreed_on=None, agreed_loss_db=None, uncertainty_db=None, basis=""):
    """A piece with its first agreed value, or with none agreed yet (both numbers None)."""
    check_day("agreed_on", agreed_on, on, "day of agreeing")
    _check_pair(agreed_loss_db, uncertainty_db)
    piece = add_row(ReferencePiece, by=by, name=name, depot=depot)
    value = {"agreed_loss_db": agreed_loss_db, "uncertainty_db": uncertainty_db, "basis": basis}
    _add_value(piece, by=by, agreed_on=agreed_on or on, **value)
    return piece


@transaction.atomic
def correct_piece(piece, *, by, reason="", seen_version=None, **values):
    """Its name or depot: nothing that is due depends on them."""
    return correct_row(piece, by=by, reason=reason, seen_version=seen_version, **values)


@transaction.atomic
def agree_value(piece, *, by, on, agreed_on, agreed_loss_db, uncertainty_db, basis="", seen_version=None):
    """A new agreed value, good from that day until the next one; earlier ones stay."""
    check_day("agreed_on", agreed_on, on, "day of agreeing")
    _check_pair(agreed_loss_db, uncertainty_db)
    hold(piece)
    piece.check_version(seen_version)
    value = {"agreed_loss_db": agreed_loss_db, "uncertainty_db": uncertainty_db, "basis": basis}
    of_day = piece.values.filter(agreed_on=agreed_on).first()
    if of_day is None:
        kept = _add_value(piece, by=by, agreed_on=agreed_on, **value)
    elif of_day.agreed_loss_db is None:
        kept = of_day.correct(by=by, reason="agreed", **value)
    else:
        raise ValidationError({"agreed_on": AGREED_ALREADY})
    reassess(_segments_since(piece, agreed_on), on=on)
    return kept


@transaction.atomic
def correct_value(value, *, by, on, reason="", seen_version=None, **values):
    """A value that was agreed wrongly; what was typed stays in the trail."""
    check_day("agreed_on", values.get("agreed_on"), on, "day of agreeing")
    _check_pair(values.get("agreed_loss_db"), values.get("uncertainty_db"))
    hold(value)
    before = value.agreed_on
    try:
        with transaction.atomic():
            value.correct(by=by, reason=reason, seen_version=seen_version, **values)
    except IntegrityError as taken:
        raise ValidationError({"agreed_on": AGREED_ALREADY}) from taken
    reassess(_segments_since(value.piece, min(before, value.agreed_on)), on=on)
    return value


@transaction.atomic
def record_piece_reading(piece, *, by, on, measured_on, loss_db, instrument=None, confirmed=""):
    """A further reading of a piece on that bench day, of which the last one counts.

    WantsConfirmation where it is so far off that it is likely mistyped.
    """
    check_day("measured_on", measured_on, on, "day of measuring")
    hold(piece)
    last = piece.readings.filter(measured_on=measured_on).aggregate(last=Max("repeat"))["last"] or 0
    row = {"measured_on": measured_on, "loss_db": loss_db, "instrument": instrument}
    reading = ReferenceReading(piece=piece, repeat=last + 1, recorded_by=by, **row)
    reading.full_clean()
    reading.save()
    _ask_about_slip(reading, on, confirmed)
    reassess(_segments_on(_bench_day(reading)), on=on)
    return reading


@transaction.atomic
def correct_piece_reading(reading, *, by, on, reason="", seen_version=None, confirmed="", **values):
    """What was mistyped: the loss, the day or the instrument."""
    check_day("measured_on", values.get("measured_on"), on, "day of measuring")
    hold(reading)
    before = _bench_day(reading)
    if values.get("measured_on", reading.measured_on) != reading.measured_on:
        same_day = reading.piece.readings.filter(measured_on=values["measured_on"])
        values["repeat"] = (same_day.aggregate(last=Max("repeat"))["last"] or 0) + 1
    reading.correct(by=by, reason=reason, seen_version=seen_version, **values)
    _ask_about_slip(reading, on, confirmed)
    reassess(_segments_on(before, _bench_day(reading)), on=on)
    return reading


@transaction.atomic
def delete_piece_reading(reading, *, by, on, reason, seen_version=None):
    """One that never was; the trail keeps what it said."""
    hold(reading)
    day = _bench_day(reading)
    reading.delete_with_trail(by=by, reason=reason, seen_version=seen_version)
    reassess(_segments_on(day), on=on)


def _check_pair(agreed_loss_db, uncertainty_db):
    """Both or neither: a value without its uncertainty decides nothing."""
    if (agreed_loss_db is None) == (uncertainty_db is None):
        return
    missing = "agreed_loss_db" if agreed_loss_db is None else "uncertainty_db"
    raise ValidationError(
        {missing: "Write both, the agreed loss and its uncertainty. Leave both empty: not agreed yet."}
    )


def _add_value(piece, *, by, **values):
    value = AgreedValue(piece=piece, recorded_by=by, **values)
    value.full_clean()
    value.save()
    return value


def _ask_about_slip(reading, on, confirmed):
    (piece,) = shown_pieces([reading.piece], on)
    (read,) = [each for each in piece.readings if each.reading.pk == reading.pk]
    if read.difference_db is None or abs(read.difference_db) <= A_SLIP_DB:
        return
    agreed = f"{two_places(read.value.agreed_loss_db)} dB is agreed"
    sentence = f"{reading.loss_db:g} dB for {reading.piece}, of which {agreed}: is that what the instrument shows?"
    WantsConfirmation(sentence, "piece_far_off", [sentence]).raise_unless(confirmed or "")


def _bench_day(reading):
    return reading.measured_on, reading.instrument_id


def _segments_on(*bench_days):
    """Keys of the segments read on these bench days; asked once the assessing lets nobody else write."""
    bench_days = set(bench_days)
    readings = Measurement.objects.filter(measured_on__in={day for day, _ in bench_days}).order_by()
    for segment, *day in readings.values_list("segment", "measured_on", "instrument"):
        if tuple(day) in bench_days:
            yield segment


def _segments_since(piece, day):
    """Of the bench days from that day on, on which the piece was read."""
    read = piece.readings.filter(measured_on__gte=day).order_by()
    yield from _segments_on(*set(read.values_list("measured_on", "instrument")))
