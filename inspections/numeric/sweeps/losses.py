"""The loss of a cable at one frequency, out of its sweep."""

from dataclasses import dataclass

import numpy as np

from ..words import FarEnd
from .records import FarEndNotSaid, SweepRefused, mhz

SPEED_OF_LIGHT_M_PER_US = 299.792458
# more than a cable can be excused for (it has none), and more than is said beside it
GAIN_REFUSED_DB, GAIN_WARNED_DB = 0.5, 0.1
# |S11| of −100 dB is below the noise of any analyser: nothing was measured
NO_REFLECTION_DB = 100.0
# one period of the ripple of a cable of two metres; wider apart, points miss what lies between
WIDE_APART_MHZ = 50.0
# a loss that grows with the root of the frequency is then off by 2.5 %
OFF_CENTRE = 0.05
# half a return loss of 20 dB: the wave did not come back from an open or shorted end
LARGE_DB = 10.0
SAME = 1e-9
SWEEP_IT = "Calibrate the analyser, sweep and save again."


@dataclass(frozen=True)
class SweepLoss:
    """`averaged_mhz` are the ends of the mean that a one-port loss is; None: read at the frequency itself."""

    loss_db: float
    at_mhz: float
    far_end: FarEnd | None
    averaged_mhz: tuple[float, float] | None
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class LossCurve:
    """Loss over frequency as the sweep shows it; of one port half the return loss, with its ripple."""

    frequency_mhz: np.ndarray
    loss_db: np.ndarray
    warnings: tuple[str, ...]


def loss_curve(sweep, far_end=None):
    """The LossCurve of a sweep through the cable, or of one port with its far end open or shorted.

    Refused where the sweep shows no loss: nothing was measured, or more comes out than goes in.
    """
    if far_end is None:
        if sweep.loss_db is None:
            raise FarEndNotSaid(
                "The sweep is of one port.",
                "Say whether the far end was open or shorted. A cable on its element has no loss to be read.",
            )
        return LossCurve(sweep.frequency_mhz, sweep.loss_db, tuple(_of_transmission(sweep)))
    if sweep.return_loss_db is None:
        raise SweepRefused(
            "The sweep holds no S11, so it is not of one port.",
            "Read it as a sweep through the cable, without a far end.",
        )
    warnings = tuple(_of_reflection(sweep))
    return LossCurve(sweep.frequency_mhz, sweep.return_loss_db / 2, warnings)


def _of_transmission(sweep):
    _check(sweep, sweep.loss_db, "S21")
    yield from _of_gain(sweep.loss_db, "S21")
    if not sweep.is_named:
        yield "The dB were read as S21, through the cable. If they are S11, say how the far end was."
    elif sweep.return_loss_db is not None and np.all(sweep.return_loss_db >= NO_REFLECTION_DB):
        yield "The file holds no reflection (S11), so no distance to a fault can be seen."
    elif sweep.s is not None and np.array_equal(sweep.s[:, 1, 0], sweep.s[:, 0, 0]):
        yield "S21 is the same as S11 at every point. The analyser may have saved the wrong one."


def _of_reflection(sweep):
    _check(sweep, sweep.return_loss_db, "S11")
    yield from _of_gain(sweep.return_loss_db, "S11")
    if sweep.is_named and sweep.loss_db is not None and np.median(sweep.loss_db) < LARGE_DB:
        yield (
            "The file also holds a sweep through the cable (S21), which was not read. If both ends were connected, "
            "read it without a far end."
        )


def _check(sweep, loss_db, name):
    if not np.isfinite(loss_db).all():
        point = int(np.flatnonzero(~np.isfinite(loss_db))[0])
        raise SweepRefused(f"{name} is zero, so nothing was measured.", SWEEP_IT, line=int(sweep.line[point]))
    point = int(np.argmin(loss_db))
    if loss_db[point] < -GAIN_REFUSED_DB:
        raise SweepRefused(
            f"{name} is {-loss_db[point]:+.2f} dB at {mhz(sweep.frequency_mhz[point])} MHz, and no cable has gain.",
            "Look whether the file says the right format, or names a loss as S21. Else calibrate and sweep again.",
            line=int(sweep.line[point]),
        )


def _of_gain(loss_db, name):
    if loss_db.min() < -GAIN_WARNED_DB:
        yield f"{name} rises to {-loss_db.min():+.2f} dB, and no cable has gain. Calibrate before the next sweep."


def loss_at(sweep, at_mhz, *, far_end=None, length_m=None, velocity_factor=None):
    """The SweepLoss at a frequency within the sweep.

    Through the cable: between two points by a straight line in dB. One port with its far end open or shorted: half
    the return loss, its mean over one period of the ripple, c · VF / (2 · length), about the frequency; over the
    whole sweep where that is narrower, or the length is not known.
    """
    curve = loss_curve(sweep, far_end)
    _refuse_outside(sweep, at_mhz)
    if far_end is None:
        loss_db, averaged_mhz = float(np.interp(at_mhz, curve.frequency_mhz, curve.loss_db)), None
        warnings = _wide_apart(curve.frequency_mhz, at_mhz)
    else:
        averaged_mhz = _period(sweep, at_mhz, length_m, velocity_factor)
        loss_db = _mean(curve, averaged_mhz)
        warnings = _of_mean(averaged_mhz, at_mhz, loss_db)
    return SweepLoss(loss_db, at_mhz, far_end, averaged_mhz, (*curve.warnings, *warnings))


def _refuse_outside(sweep, at_mhz):
    if not sweep.from_mhz * (1 - SAME) <= at_mhz <= sweep.to_mhz * (1 + SAME):
        to = f" to {mhz(sweep.to_mhz)}" if sweep.points > 1 else ""
        raise SweepRefused(
            f"The sweep is of {mhz(sweep.from_mhz)}{to} MHz, without {mhz(at_mhz)} MHz.",
            "Sweep over that frequency, or ask for one that the sweep holds.",
        )


def _wide_apart(frequency_mhz, at_mhz):
    above = min(int(np.searchsorted(frequency_mhz, at_mhz)), len(frequency_mhz) - 1)
    below, above = frequency_mhz[max(above - 1, 0)], frequency_mhz[above]
    if not np.isclose([below, above], at_mhz, rtol=SAME, atol=0).any() and above - below > WIDE_APART_MHZ:
        yield (
            f"The nearest points are at {mhz(below)} and {mhz(above)} MHz, so what lies between is not known. "
            "Sweep with more points."
        )


def _period(sweep, at_mhz, length_m, velocity_factor):
    """Ends of one period of the ripple about the frequency, moved into the sweep where it sticks out."""
    if not (length_m and velocity_factor):
        return sweep.from_mhz, sweep.to_mhz
    period = SPEED_OF_LIGHT_M_PER_US * velocity_factor / (2 * length_m)
    if period >= sweep.to_mhz - sweep.from_mhz:
        return sweep.from_mhz, sweep.to_mhz
    low = min(max(at_mhz - period / 2, sweep.from_mhz), sweep.to_mhz - period)
    return low, low + period


def _mean(curve, averaged_mhz):
    """Mean over frequency; each point stands for what is nearer to it than to another.

    The outermost points stand for as much beyond them as on the other side, so that points at equal steps count alike.
    """
    frequency, loss_db = curve.frequency_mhz, curve.loss_db
    if len(frequency) == 1:
        return float(loss_db[0])
    between = (frequency[1:] + frequency[:-1]) / 2
    edges = np.concatenate([[2 * frequency[0] - between[0]], between, [2 * frequency[-1] - between[-1]]])
    if averaged_mhz != (frequency[0], frequency[-1]):
        edges = np.clip(edges, *averaged_mhz)
    return float(np.average(loss_db, weights=np.diff(edges)))


def _of_mean(averaged_mhz, at_mhz, loss_db):
    low, high = averaged_mhz
    if abs((low + high) / 2 - at_mhz) > OFF_CENTRE * at_mhz:
        yield (
            f"The loss is a mean from {mhz(low)} to {mhz(high)} MHz, and a loss grows with frequency. Sweep about "
            f"{mhz(at_mhz)} MHz, or say the length of the cable."
        )
    if loss_db > LARGE_DB:
        yield "Hardly anything came back. Look whether the far end was open or shorted, and not on its element."
