"""Readings that were typed for the wrong mat go to the right one, all or none."""

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.models import Mat
from fleet.selectors.seen import version_of
from fleet.services.confirmation import weighed
from fleet.services.corrections import correct_alike
from fleet.services.locks import hold, hold_all

from ..assessment.services import reassess
from ..models import Measurement
from .moving_selectors import moves_to
from .services import need_reason, taken_on
from .sweep_moves_services import sweeps_for, take_sweeps_along

# what is copied as it is; the cable, the repeat, the note and how it was taken follow from the other mat
KEPT = (
    "measured_on",
    "loss_db",
    "no_signal",
    "go_no_go",
    "method",
    "frequency_mhz",
    "temperature_c",
    "instrument_id",
    "measured_by",
    "reason",
    "doubt_reason",
)


@transaction.atomic
def move_readings(readings, mat, other, *, seen, by, on, reason, confirmed=None):
    """Make these readings of one day void, and store each for what was in its position of the other mat that day.

    A repeat stays what it was, or is the next free one where a void reading has it. Returns the new rows. Raises
    ValidationError where the readings are others than were `seen`, or in another version, where a position held no
    cable that day, and where a reading with that repeat stands there; WantsConfirmation as `weighed` does.
    """
    need_reason(reason)
    segments = _hold(readings, mat, other)
    readings = hold_all(Measurement.objects.filter(pk__in=[reading.pk for reading in readings]))
    if {version_of(reading) for reading in readings} != seen:
        raise ValidationError(
            "Somebody else changed this meanwhile. The readings stand below as they are now. Look again.", code="stale"
        )
    moves = moves_to(mat, other, readings, on)
    if refused := [move.refusal for move in moves if move.refusal]:
        raise ValidationError(refused)
    with weighed(*segments, on=on, confirmed=confirmed):
        rows = _moved(moves, mat, by)
        sweeps = sweeps_for(moves, rows)
        correct_alike(readings, by=by, reason=reason, voided_on=on, void_reason=reason)
        Measurement.objects.bulk_create(rows)
        take_sweeps_along(sweeps, by=by, reason=reason)
    reassess([segment.pk for segment in segments], on=on)
    return rows


def _hold(readings, mat, other):
    """Hold the cables here and there, and both mats; what was where on that day stays so. Returns the cables."""
    day = readings[0].measured_on
    there = [fitting.segment for fitting in other.fittings.current(day).select_related("segment")]
    segments = {segment.pk: segment for segment in (*(reading.segment for reading in readings), *there)}
    hold(*segments.values())
    hold_all(Mat.objects.filter(pk__in=[mat.pk, other.pk]))
    return list(segments.values())


def _moved(moves, mat, by):
    """The rows as they stand at the other mat."""
    used, rows = _repeats_used(moves), []
    for move in moves:
        reading, segment = move.reading, move.there.segment
        repeats = used.setdefault(segment.pk, set())
        repeat = reading.repeat if reading.repeat not in repeats else max(repeats) + 1
        repeats.add(repeat)
        row = Measurement(
            segment=segment,
            repeat=repeat,
            taken=taken_on(reading.measured_on, move.there.known_day, reading.taken),
            note=_note(reading.note, f"typed for {mat} position {move.position} first"),
            recorded_by=by,
            **{name: getattr(reading, name) for name in KEPT},
        )
        row.clean_fields(exclude=["segment", "instrument", "recorded_by"])
        rows.append(row)
    return rows


def _repeats_used(moves):
    """{segment id: every repeat of that day, void or not}; the key of a reading holds for void ones too."""
    segments, day = [move.there.segment_id for move in moves], moves[0].reading.measured_on
    used = {}
    for segment, repeat in Measurement.objects.filter(segment__in=segments, measured_on=day).values_list(
        "segment", "repeat"
    ):
        used.setdefault(segment, set()).add(repeat)
    return used


def _note(note, origin):
    """The note with where the reading comes from, as far as there is room for that."""
    joined = f"{note}; {origin}" if note else origin
    return joined if len(joined) <= Measurement._meta.get_field("note").max_length else note
