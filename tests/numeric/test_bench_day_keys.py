"""Bench days as numbers."""

import numpy as np
import pytest

from inspections.numeric.bench_day_keys import bench_day_key, day_of_key, instrument_of_key

DAYS = np.array(["1970-01-01", "2026-05-12", "2026-05-12", "2026-05-13"], "datetime64[D]")
INSTRUMENTS = np.array([0, 0, 4_000_000_000, 1])


def test_a_key_gives_its_day_and_its_instrument_back():
    keys = bench_day_key(DAYS, INSTRUMENTS)
    assert keys.dtype == np.int64
    assert day_of_key(keys).tolist() == DAYS.tolist()
    assert instrument_of_key(keys).tolist() == INSTRUMENTS.tolist()


def test_keys_stand_in_order_of_days_then_of_instruments():
    keys = bench_day_key(DAYS, INSTRUMENTS)
    assert (np.diff(keys) > 0).all()
    assert (keys >= 0).all()


@pytest.mark.parametrize("number", [-1, 1 << 32])
def test_a_number_that_would_run_into_the_day_is_refused(number):
    with pytest.raises(ValueError):
        bench_day_key(DAYS[:1], [number])


def test_no_readings_have_no_keys():
    assert bench_day_key(DAYS[:0], []).tolist() == []
