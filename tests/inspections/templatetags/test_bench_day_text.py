"""Bench days in words."""

from datetime import date
from types import SimpleNamespace

import pytest

from inspections.models import BenchDay
from inspections.templatetags.bench_day_text import bench_day_text, how_it_read, taken_out_text

DAY = date(2026, 5, 12)


@pytest.mark.parametrize(
    ("shift_db", "instrument", "said"),
    [
        (0.142, None, "The bench on 12 May 2026 read 0.14 dB (±\xa00.04) high; taken out."),
        (-0.31, "bridge 2", "The bench on 12 May 2026, bridge 2, read 0.31 dB (±\xa00.04) low; taken out."),
    ],
)
def test_a_bench_day_says_by_how_much_it_read_high_or_low(shift_db, instrument, said):
    day = SimpleNamespace(measured_on=DAY, instrument=instrument, shift_db=shift_db, shift_sd_db=0.041)
    assert bench_day_text(day) == said


@pytest.mark.parametrize(
    ("shift_db", "sd_db", "readings", "short", "sentence"),
    [
        (0.142, 0.041, 8, "read 0.14 dB high", "read 0.14 dB (±\xa00.04) high; this is taken out of its readings."),
        (-0.31, 0.1, 2, "read 0.31 dB low", "read 0.31 dB (±\xa00.10) low; this is taken out of its readings."),
        (
            *(0.02, 0.04, 8),
            *("about as usual", "read 0.02 dB (±\xa00.04) high, about as usual; this is taken out of its readings."),
        ),
        # a single reading far off may be its cable's fault
        (
            *(0.5, 0.1, 1, "too few readings to say"),
            "has too few readings to say whether it read high or low. As far as they tell, it read 0.50 dB (±\xa00.10) "
            "high, and this is taken out of them.",
        ),
        (
            *(None, None, 8, "not known: there is no trend of the pool yet"),
            "cannot be compared with others: there is no trend of the pool yet.",
        ),
    ],
)
def test_each_bench_day_says_how_it_read(shift_db, sd_db, readings, short, sentence):
    day = BenchDay(measured_on=DAY, shift_db=shift_db, shift_sd_db=sd_db, readings=readings)
    assert how_it_read(day) == short
    assert taken_out_text(day) == f"The bench on 12 May 2026 {sentence}"


@pytest.mark.parametrize(
    ("shift_db", "sd_db", "far"), [(0.31, 0.05, True), (-0.31, 0.05, True), (0.31, 0.11, False), (0.29, 0.05, False)]
)
def test_a_day_is_named_beyond_three_standard_deviations_of_bench_days_and_of_its_own(shift_db, sd_db, far):
    day = BenchDay(measured_on=DAY, shift_db=shift_db, shift_sd_db=sd_db, readings=8)
    assert day.reads_far_off(0.1) is far


def test_a_single_reading_far_off_does_not_accuse_the_bench():
    day = BenchDay(measured_on=DAY, shift_db=3.0, shift_sd_db=0.07, readings=1)
    assert not day.reads_far_off(0.1)
    assert how_it_read(day) == "too few readings to say"
