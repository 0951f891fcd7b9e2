"""One loss out of a sweep: through the cable, or of one port with its far end open or shorted."""

import numpy as np
import pytest

from inspections.numeric.sweeps.losses import loss_at
from inspections.numeric.sweeps.reading import read_sweep
from inspections.numeric.sweeps.records import FarEndNotSaid, SweepRefused
from inspections.numeric.words import FarEnd


def through(points):
    rows = "\n".join(f"{mhz} -25 0 {-db} 0 {-db} 0 -25 0" for mhz, db in points)
    return read_sweep(f"# MHz S DB\n{rows}".encode())


def one_port(frequency_mhz, return_loss_db):
    rows = zip(map(float, frequency_mhz), map(float, return_loss_db), strict=True)
    return read_sweep(("# MHz S DB\n" + "\n".join(f"{mhz!r} {-db!r} 0" for mhz, db in rows)).encode())


def test_between_two_points_the_loss_lies_on_a_straight_line():
    assert loss_at(through([(890, 1.30), (910, 1.40)]), 895).loss_db == pytest.approx(1.325)


@pytest.mark.parametrize("at_mhz", [889.99, 910.01])
def test_beyond_its_ends_a_sweep_says_nothing(at_mhz):
    with pytest.raises(SweepRefused, match=r"The sweep is of 890 to 910 MHz, without .* MHz\. Sweep over that"):
        loss_at(through([(890, 1.30), (910, 1.40)]), at_mhz)


@pytest.mark.parametrize(("second", "says"), [(940, False), (951, True)])
def test_points_wide_apart_are_told(second, says):
    warnings = loss_at(through([(890, 1.30), (second, 1.40)]), 900).warnings
    assert [warning.startswith("The nearest points are at 890 and 951 MHz") for warning in warnings] == [True] * says


@pytest.mark.parametrize(("gain", "warns"), [(0.09, 0), (0.11, 1), (0.49, 1)])
def test_a_little_gain_is_told(gain, warns):
    loss = loss_at(through([(890, -gain), (900, 1.4)]), 900)
    assert [warning.split(",")[0] for warning in loss.warnings] == [f"S21 rises to +{gain} dB"] * warns


def test_more_gain_than_that_is_refused_with_its_line():
    with pytest.raises(SweepRefused, match=r"^line 3: S21 is \+0\.51 dB at 900 MHz, and no cable has gain"):
        loss_at(through([(890, 1.4), (900, -0.51)]), 890)


def test_a_port_that_measured_nothing_is_refused():
    sweep = read_sweep(b"# MHz S RI\n890 .1 0 .8 0 .8 0 .1 0\n900 .1 0 0 0 0 0 .1 0")
    with pytest.raises(SweepRefused, match=r"^line 3: S21 is zero, so nothing was measured"):
        loss_at(sweep, 890)


def test_one_port_asks_for_the_far_end():
    with pytest.raises(FarEndNotSaid):
        loss_at(one_port([890.0, 900.0], [2.6, 2.6]), 900)


VELOCITY_FACTOR, LENGTH_M = 0.66, 2.0
# rf.md section 4: the ripple of a line of 2 m and a velocity factor of 0.66
RIPPLE_MHZ = 49.47


def rippled(frequency_mhz, loss_db=1.31, ripple_db=0.4):
    return 2 * (loss_db + ripple_db * np.sin(2 * np.pi * frequency_mhz / RIPPLE_MHZ))


@pytest.mark.parametrize("far_end", FarEnd)
@pytest.mark.parametrize("at_mhz", [803, 870, 900, 915.5, 999])
def test_the_mean_over_one_period_takes_the_ripple_away(far_end, at_mhz):
    """Of ±0.4 dB ripple less than 0.005 dB is left, also where the period is moved into the sweep."""
    frequency_mhz = np.linspace(800, 1000, 401)
    sweep = one_port(frequency_mhz, rippled(frequency_mhz))
    kwargs = {"far_end": far_end, "length_m": LENGTH_M, "velocity_factor": VELOCITY_FACTOR}
    loss = loss_at(sweep, at_mhz, **kwargs)
    assert loss.loss_db == pytest.approx(1.31, abs=0.005)
    low, high = loss.averaged_mhz
    assert high - low == pytest.approx(RIPPLE_MHZ, abs=0.005)
    assert 800 <= low <= at_mhz <= high <= 1000


def test_the_mean_is_about_the_frequency():
    """A loss that rises by 1 dB over 200 MHz, and no ripple."""
    frequency_mhz = np.linspace(800, 1000, 401)
    sweep = one_port(frequency_mhz, 2 * (1 + (frequency_mhz - 800) / 200))
    near = loss_at(sweep, 850, far_end=FarEnd.OPEN, length_m=LENGTH_M, velocity_factor=VELOCITY_FACTOR)
    assert near.loss_db == pytest.approx(1.25, abs=0.001)
    whole = loss_at(sweep, 850, far_end=FarEnd.OPEN)
    assert whole.loss_db == pytest.approx(1.5, abs=0.001)
    assert whole.averaged_mhz == (800, 1000)
    assert [near.warnings, whole.warnings[0][:45]] == [(), "The loss is a mean from 800 to 1,000 MHz, and"]


def test_a_sweep_narrower_than_one_period_counts_whole():
    sweep = one_port([890.0, 900.0, 910.0], [2.5, 2.6, 2.9])
    loss = loss_at(sweep, 900, far_end=FarEnd.SHORT, length_m=LENGTH_M, velocity_factor=VELOCITY_FACTOR)
    assert (loss.loss_db, loss.averaged_mhz) == (pytest.approx(8.0 / 6), (890, 910))


def test_points_close_together_do_not_outweigh_the_others():
    """Half of 2 dB over 800 to 900 MHz and of 4 dB over 900 to 1000 MHz, whatever the steps."""
    frequency_mhz = np.concatenate([np.linspace(800, 899, 100), np.linspace(901, 1000, 12)])
    sweep = one_port(frequency_mhz, np.where(frequency_mhz < 900, 2.0, 4.0))
    assert loss_at(sweep, 900, far_end=FarEnd.OPEN).loss_db == pytest.approx(1.5, abs=0.03)


def test_a_wave_that_does_not_come_back_asks_for_the_far_end():
    loss = loss_at(one_port([890.0, 900.0], [24.0, 26.0]), 900, far_end=FarEnd.OPEN)
    assert loss.loss_db == pytest.approx(12.5)
    assert loss.warnings == (
        "Hardly anything came back. Look whether the far end was open or shorted, and not on its element.",
    )


def test_of_two_ports_the_far_end_takes_the_reflection_and_says_so():
    loss = loss_at(through([(890, 1.3), (900, 1.4)]), 900, far_end=FarEnd.OPEN)
    assert loss.loss_db == pytest.approx(12.5)
    assert loss.warnings[0].startswith("The file also holds a sweep through the cable (S21), which was not read.")
