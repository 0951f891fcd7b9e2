"""Readings that move take along the sweeps that they were read from, each read anew for the other cable."""

from django.core.exceptions import ValidationError

from ..models import Sweep
from ..numeric.methods import FAR_END
from ..numeric.sweeps.losses import loss_at
from ..numeric.sweeps.reading import read_sweep
from ..numeric.sweeps.records import SweepRefused
from ..sweep_files import SweepFileLost, kept_sweep_file

# far below what any analyser tells
DIGITS = 6


def sweeps_for(moves, rows):
    """[(sweep, its new Measurement, what the sweep says of that cable)]; the unsaved rows say it too.

    The mean that a loss by reflection is follows the length and type of the cable. Raises ValidationError where such a
    file cannot be read, and where the other cable has the same file of that day.
    """
    row_of = {move.reading.pk: row for move, row in zip(moves, rows, strict=True)}
    sweeps = Sweep.objects.filter(reading__in=list(row_of)).select_related("segment")
    return [(sweep, row, _said_of(sweep, row)) for sweep in sweeps for row in [row_of[sweep.reading_id]]]


def take_sweeps_along(found, *, by, reason):
    """Correct the sweeps that `sweeps_for` found, once their new readings are stored."""
    for sweep, row, said in found:
        sweep.correct(by=by, reason=reason, segment=row.segment, reading=row, **said)


def _said_of(sweep, row):
    if row.segment.sweeps.filter(sha256=sweep.sha256, measured_on=sweep.measured_on).exists():
        raise ValidationError(f"{row.segment} has the sweep {sweep.file_name} of that day already.")
    if sweep.method not in FAR_END or sweep.loss_db is None:
        return {}
    loss = _read(sweep, row.segment)
    loss_db = max(0.0, round(loss.loss_db, DIGITS))
    row.loss_db = 2 * loss_db
    low, high = loss.averaged_mhz
    return {"loss_db": loss_db, "averaged_from_mhz": low, "averaged_to_mhz": high}


def _read(sweep, segment):
    try:
        return loss_at(
            read_sweep(kept_sweep_file(sweep.sha256)),
            sweep.at_mhz,
            far_end=FAR_END[sweep.method],
            length_m=segment.length_m,
            velocity_factor=segment.cable_type.velocity_factor,
        )
    except (SweepFileLost, SweepRefused) as error:
        raise ValidationError(f"{sweep.file_name} cannot be read again for {segment}: {error}") from error
