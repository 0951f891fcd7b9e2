"""A bench day, which is a calendar day and an instrument, as one number; numbers sort by day, then by instrument."""

import numpy as np

_INSTRUMENT_BITS = 32
_INSTRUMENTS = (1 << _INSTRUMENT_BITS) - 1


def bench_day_key(day, instrument):
    """Keys (int64) of days (`datetime64[D]`) and instruments (their numbers, 0: none); raises ValueError for a number
    that has no place in a key.
    """
    instrument = np.asarray(instrument, np.int64)
    if instrument.size and not 0 <= instrument.min() <= instrument.max() <= _INSTRUMENTS:
        raise ValueError("The number of an instrument lies outside of what a key has room for.")
    return np.asarray(day, "datetime64[D]").astype(np.int64) << _INSTRUMENT_BITS | instrument


def day_of_key(key):
    return (np.asarray(key, np.int64) >> _INSTRUMENT_BITS).astype("datetime64[D]")


def instrument_of_key(key):
    return np.asarray(key, np.int64) & _INSTRUMENTS
