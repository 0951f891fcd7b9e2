"""What a sweep file says of a cable: at the first look, and once it is said how the cable was connected."""

from dataclasses import dataclass

import numpy as np

from ..limits import LARGEST_LOSS_DB
from ..numeric.methods import FAR_END
from ..numeric.sweeps.losses import loss_at, loss_curve
from ..numeric.sweeps.reading import read_sweep
from ..numeric.sweeps.records import SweepRefused, mhz
from ..numeric.words import FarEnd, Method

# what the pool's reference frequency may be, and where its mats work
BAND_MHZ = (860.0, 960.0)
SAME = 1e-9
MOST_WARNINGS = 8
# far below what any analyser tells: a reading is then written as it was shown
DIGITS = 6


@dataclass(frozen=True)
class Look:
    """What the file says by itself. `loss_db` is of a sweep through the cable at `at_mhz`, None where there is none.

    `method`: what it must have been, "" where only the bench hand knows.
    """

    kind: str
    points: int
    from_mhz: float
    to_mhz: float
    has_transmission: bool
    has_reflection: bool
    method: str
    warnings: tuple[str, ...]
    loss_db: float | None = None
    at_mhz: float | None = None


@dataclass(frozen=True)
class SweepReading:
    """What is kept of a sweep. `shown_db` is what the instrument showed, None where it tells no reading, or none but
    that there was `no_signal`; `said`: what was done that a person may not expect."""

    kind: str
    points: int
    from_mhz: float
    to_mhz: float
    shown_db: float | None
    loss_db: float | None
    at_mhz: float | None
    averaged_mhz: tuple[float, float] | None
    warnings: tuple[str, ...]
    said: tuple[str, ...]
    no_signal: bool = False


def look_at(content, reference_mhz):
    """The Look of a file's bytes; SweepRefused where it is no sweep, or shows gain or nothing at all."""
    sweep = read_sweep(content)
    through = sweep.loss_db is not None
    curve = loss_curve(sweep, None if through else FarEnd.OPEN)
    at_mhz, said = _frequency(sweep, reference_mhz)
    is_read = through and sweep.is_named and at_mhz is not None
    loss = loss_at(sweep, at_mhz) if is_read else None
    return Look(
        kind=sweep.kind,
        points=sweep.points,
        from_mhz=sweep.from_mhz,
        to_mhz=sweep.to_mhz,
        has_transmission=through,
        has_reflection=sweep.return_loss_db is not None,
        method=str(Method.THROUGH) if through and sweep.is_named else "",
        warnings=tuple([*sweep.warnings, *(loss or curve).warnings, *said][:MOST_WARNINGS]),
        loss_db=loss and loss.loss_db,
        at_mhz=loss and at_mhz,
    )


def read_as(content, method, *, reference_mhz, length_m=None, velocity_factor=None):
    """The SweepReading of a file's bytes, of a cable that was connected by this method.

    Raises SweepRefused where the file does not hold what the method needs.
    """
    sweep = read_sweep(content)
    at_mhz, said = _frequency(sweep, reference_mhz)
    shown_db = loss_db = averaged_mhz = None
    if method == Method.ON_ELEMENT:
        shown_db, warnings = _return_loss_db(sweep, at_mhz), ()
    elif at_mhz is None:
        warnings = loss_curve(sweep, FAR_END.get(method)).warnings
    else:
        loss = loss_at(sweep, at_mhz, far_end=FAR_END.get(method), length_m=length_m, velocity_factor=velocity_factor)
        loss_db, averaged_mhz, warnings = round(loss.loss_db, DIGITS), loss.averaged_mhz, loss.warnings
        if loss_db < 0:
            said.append(f"Its loss of {loss_db:.2f} dB is below zero, as no cable’s is, and counts as 0 dB.")
            loss_db = 0.0
        shown_db = 2 * loss_db if method in FAR_END else loss_db
    no_signal = shown_db is not None and shown_db >= LARGEST_LOSS_DB
    if no_signal:
        said.append(_no_signal(shown_db, method))
        shown_db = loss_db = None
    return SweepReading(
        kind=sweep.kind,
        points=sweep.points,
        from_mhz=sweep.from_mhz,
        to_mhz=sweep.to_mhz,
        shown_db=shown_db,
        loss_db=loss_db,
        at_mhz=None if shown_db is None and not no_signal else at_mhz,
        averaged_mhz=averaged_mhz,
        warnings=tuple([*sweep.warnings, *warnings][:MOST_WARNINGS]),
        said=tuple(said),
        no_signal=no_signal,
    )


def _no_signal(shown_db, method):
    """What is said of a loss that no cable has; SweepRefused where a wave that came back tells it."""
    if method != Method.THROUGH:
        what = f"A return loss of {shown_db:.0f} dB: no wave came back, as it does from an open or shorted end."
        raise SweepRefused(what, "Look at the leads, sweep and save again.")
    return f"Its loss of {shown_db:.0f} dB is that of an open or broken cable: kept as no signal."


def _frequency(sweep, reference_mhz):
    """(where it is read, what is said of it): the reference frequency, else the end that is nearest within the band."""
    at_mhz = min(max(reference_mhz, sweep.from_mhz), sweep.to_mhz)
    if abs(at_mhz - reference_mhz) <= SAME * reference_mhz:
        return reference_mhz, []
    if BAND_MHZ[0] <= at_mhz <= BAND_MHZ[1]:
        return at_mhz, [f"It does not reach {mhz(reference_mhz)} MHz, so it was read at {mhz(at_mhz)} MHz."]
    band = f"{mhz(BAND_MHZ[0])} to {mhz(BAND_MHZ[1])} MHz"
    return None, [f"It does not reach {band}, so the file is kept without a reading."]


def _return_loss_db(sweep, at_mhz):
    """Of a cable with its element: what came back, to be compared with its own earlier sweeps."""
    if sweep.return_loss_db is None:
        raise SweepRefused("The sweep holds no S11, and on its element only S11 says something.", "Say another way.")
    if not np.isfinite(sweep.return_loss_db).all():
        raise SweepRefused("S11 is zero, so nothing was measured.", "Calibrate the analyser, sweep and save again.")
    if at_mhz is None:
        return None
    return max(0.0, round(float(np.interp(at_mhz, sweep.frequency_mhz, sweep.return_loss_db)), DIGITS))
