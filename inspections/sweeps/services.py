"""Sweep files are kept, each with the reading that it gives."""

from dataclasses import dataclass
from datetime import date

from django.core.exceptions import ValidationError
from django.db import transaction

from fleet.figures import short_day
from fleet.models import CableSegment
from fleet.services.confirmation import WantsConfirmation
from fleet.services.locks import hold
from fleet.validators import check_not_after

from ..assessment.policy_in_force import current_policy
from ..assessment.services import reassess
from ..bench.services import number_repeats, taken_on
from ..choices import MeasurementReason, Taken
from ..models import Measurement, Sweep
from ..numeric.sweeps.records import SweepRefused
from ..sweep_files import keep_sweep_file
from ..validators import check_method
from .reading_services import read_as
from .selectors import kept_elsewhere, known_fitting_days

# of a row that is there: what follows from how its cable was connected
READ_AGAIN = (
    *("method", "loss_db", "at_mhz", "averaged_from_mhz", "averaged_to_mhz", "warnings", "reading"),
    "file_name",
)


@dataclass(frozen=True)
class SweepToKeep:
    """A file with what was said of it; `doubt`: why it may be of another cable, to be asked about."""

    segment: CableSegment
    measured_on: date
    method: str
    file_name: str
    sha256: str
    content: bytes
    doubt: str = ""


@dataclass(frozen=True)
class KeptSweeps:
    """`there`: those that were kept before, not again; `said`: what was done that a person may not expect."""

    sweeps: tuple[Sweep, ...]
    there: tuple[Sweep, ...]
    said: tuple[str, ...]


def keep_sweeps(
    files,
    *,
    by,
    on,
    instrument=None,
    temperature_c=None,
    measured_by="",
    reason=MeasurementReason.ROUTINE,
    confirmed="",
):
    """Keep SweepToKeep files with their readings, all or none; one that is there already stays as it is.

    Raises ValidationError where one does not hold what its method needs or lies after today, WantsConfirmation where
    there is a doubt, or a file is kept already for another cable or day. A file is on the disk before
    the row that names it.
    """
    if not files:
        raise ValidationError("Choose at least one file to keep.", code="empty")
    for file in files:
        check_not_after(file.measured_on, on, "day of measuring")
        _check_method(file, instrument)
    reference_mhz = current_policy().value("reference_mhz")
    read = [_read(file, reference_mhz) for file in files]
    new = _once(files, read)
    for file, _reading in new:
        keep_sweep_file(file.content)
    head = {"instrument": instrument, "temperature_c": temperature_c, "measured_by": measured_by, "reason": reason}
    return _store(files, new, by, on, head, confirmed)


def _check_method(file, instrument):
    """An instrument of that kind can have shown it."""
    try:
        check_method(instrument.kind if instrument else "", file.method)
    except ValidationError as error:
        raise ValidationError(f"{file.file_name}: {' '.join(error.messages)}") from error


def _read(file, reference_mhz):
    segment = file.segment
    try:
        return read_as(
            file.content,
            file.method,
            reference_mhz=reference_mhz,
            length_m=segment.length_m,
            velocity_factor=segment.cable_type.velocity_factor,
        )
    except SweepRefused as refusal:
        raise ValidationError(refusal.sentence(file.file_name)) from refusal


def _once(files, read):
    """The same file for the same cable and day once, though it came under two names."""
    return list({_key_of(file): (file, reading) for file, reading in zip(files, read, strict=True)}.values())


def _key_of(file):
    return file.sha256, file.segment.pk, file.measured_on


@transaction.atomic
def _store(files, new, by, on, head, confirmed):
    hold(*{file.segment.pk: file.segment for file, _reading in new}.values())
    kept = kept_elsewhere({file.sha256 for file, _reading in new})
    there = {_key_of_row(sweep): sweep for same in kept.values() for sweep in same}
    new = [(file, reading) for file, reading in new if _is_to_store(there.get(_key_of(file)))]
    _ask_about_others(new, kept, confirmed)
    rows = _readings(new, by, head)
    Measurement.objects.bulk_create([row for row in rows if row])
    sweeps = [sweep_row(file, reading, row, by) for (file, reading), row in zip(new, rows, strict=True)]
    for sweep in sweeps:
        sweep.clean_fields(exclude=["segment", "recorded_by", "reading"])
    Sweep.objects.bulk_create([sweep for sweep in sweeps if _key_of_row(sweep) not in there])
    again = [_read_again(there[key], sweep, by) for sweep in sweeps if (key := _key_of_row(sweep)) in there]
    reassess([row.segment_id for row in rows if row], on=on)
    stayed = [there[key] for file in files if (key := _key_of(file)) in there and not _is_to_store(there[key])]
    said = [f"{file.file_name}: {sentence}" for file, reading in new for sentence in reading.said]
    fresh = [sweep for sweep in sweeps if _key_of_row(sweep) not in there]
    return KeptSweeps((*fresh, *again), tuple(stayed), tuple(said))


def _key_of_row(sweep):
    return sweep.sha256, sweep.segment_id, sweep.measured_on


def _is_to_store(there):
    """A file that is there gives a reading again once its own was made void: it was mapped wrongly, say."""
    return there is None or (there.reading is not None and there.reading.voided_on is not None)


def _read_again(there, now, by):
    """The row of the file says how it was read last; its trail, and the void reading, how it was read before."""
    values = {name: getattr(now, name) for name in READ_AGAIN}
    return there.correct(by=by, reason="read again: its reading was void", **values)


def _ask_about_others(new, kept, confirmed):
    """One sweep is of one cable: the same file for two is likely a slip."""
    points = [file.doubt for file, _reading in new if file.doubt]
    points += [
        f"{file.file_name} for {file.segment} on {short_day(file.measured_on)}: kept for {sweep.segment} on "
        f"{short_day(sweep.measured_on)} already."
        for file, _reading in new
        for sweep in kept.get(file.sha256, ())
        if _key_of_row(sweep) != _key_of(file)
    ]
    first = {}
    for file, _reading in new:
        other = first.setdefault(file.sha256, file)
        if other is not file:
            points.append(f"{file.file_name} for {file.segment}: the same file is chosen for {other.segment} too.")
    if points:
        message = "These may be of another cable. Choose the right one, or say that it is meant."
        WantsConfirmation(message, "which cable", points, points=points).raise_unless(confirmed)


def _readings(new, by, head):
    fitted = known_fitting_days([file.segment for file, _reading in new])
    rows = [_reading_of(file, reading, by, head, fitted) for file, reading in new]
    for row in filter(None, rows):
        row.clean_fields(exclude=["segment", "instrument", "recorded_by"])
    number_repeats([row for row in rows if row])
    return rows


def _reading_of(file, reading, by, head, fitted):
    if reading.shown_db is None and not reading.no_signal:
        return None
    day = file.measured_on if (file.segment.pk, file.measured_on) in fitted else None
    return Measurement(
        segment=file.segment,
        measured_on=file.measured_on,
        loss_db=reading.shown_db,
        no_signal=reading.no_signal,
        method=str(file.method),
        frequency_mhz=reading.at_mhz,
        taken=taken_on(file.measured_on, day, Taken.AS_FOUND),
        recorded_by=by,
        **head,
    )


def sweep_row(file, reading, row, by):
    """The unsaved Sweep of a SweepToKeep and its SweepReading; `row`: the Measurement that it gave, or None."""
    low, high = reading.averaged_mhz or (None, None)
    return Sweep(
        segment=file.segment,
        measured_on=file.measured_on,
        file_name=file.file_name,
        sha256=file.sha256,
        size_bytes=len(file.content),
        kind=reading.kind,
        method=str(file.method),
        points=reading.points,
        from_mhz=reading.from_mhz,
        to_mhz=reading.to_mhz,
        loss_db=reading.loss_db,
        at_mhz=reading.at_mhz,
        averaged_from_mhz=low,
        averaged_to_mhz=high,
        warnings=[*reading.warnings, *reading.said],
        reading=row,
        recorded_by=by,
    )
