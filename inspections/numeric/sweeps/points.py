"""Points in ascending frequency, each frequency once, and whether they can be what they claim to be."""

import numpy as np

from .records import Sweep, mhz

# where cables are measured; some points may lie beyond, as far as there are analysers
PLAUSIBLE_MHZ = (1.0, 20_000.0)
HIGHEST_MHZ = 1e6


def in_mhz(frequency, mhz_per_unit):
    """Without the rounding of the unit's factor, so that 0.9 GHz is 900 MHz."""
    with np.errstate(over="ignore"):
        return np.round(frequency * mhz_per_unit, 9)


def sweep_of(kind, frequency_mhz, lines, *, s=None, loss_db=None, return_loss_db=None, warnings=(), **more):
    """The Sweep of rows as they stand in a file: `lines` of them, and either S parameters or losses."""
    said = [*warnings, *_plausible(frequency_mhz, lines)]
    if s is not None:
        loss_db, return_loss_db = _loss_db(s[:, 1, 0]) if s.shape[-1] == 2 else None, _loss_db(s[:, 0, 0])
    if np.any(np.diff(frequency_mhz) < 0):
        said.append("The frequencies do not ascend in the file. They were sorted.")
    frequencies, first, of_point = np.unique(frequency_mhz, return_index=True, return_inverse=True)
    if len(frequencies) < len(frequency_mhz):
        said.append(_of_repeats(frequencies, of_point))
    times = np.bincount(of_point)
    merged = [None if values is None else _means(values, of_point, times) for values in (loss_db, return_loss_db, s)]
    numbers = np.array([line.number for line in lines])[first]
    return Sweep(kind, frequencies, numbers, *merged, warnings=tuple(said), **more)


def _loss_db(s):
    """−20 log10 |s|; infinite at zero, and 0 rather than −0 at one."""
    with np.errstate(divide="ignore"):
        return 0.0 - 20 * np.log10(np.abs(s))


def _means(values, of_point, times):
    """Mean of the rows of each point; of losses that is the mean of their dB."""
    if len(times) == len(values):
        return values[np.argsort(of_point)]
    total = np.zeros((len(times), *values.shape[1:]), dtype=values.dtype)
    np.add.at(total, of_point, values)
    return total / times.reshape(-1, *[1] * (values.ndim - 1))


def _of_repeats(frequencies, of_point):
    repeated = frequencies[np.bincount(of_point) > 1]
    more = f" and {len(repeated) - 1:,} more" if len(repeated) > 1 else ""
    return f"The file repeats {mhz(repeated[0])} MHz{more}. The mean of the dB was taken."


def _plausible(frequency_mhz, lines):
    low, high = PLAUSIBLE_MHZ
    within = (frequency_mhz >= low) & (frequency_mhz <= high)
    no_sweep = (frequency_mhz < 0) | (frequency_mhz > HIGHEST_MHZ) | ~within.any()
    if no_sweep.any():
        lines[np.argmax(no_sweep)].refuse(
            "this is no frequency of a sweep.", "Look whether the file names the right unit of frequency."
        )
    if not within.all():
        yield "Some frequencies lie outside 1 MHz to 20 GHz. Look whether the unit of frequency is right."
