"""Decibel facts and reference losses against values from outside."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.numeric.decibels import power_left, reference_loss_db, typical_loss_db

NAN = float("nan")

# Attenuation of one solid-polyethylene coax (RG-58C/U), k1·√f + k2·f in dB per 100 ft at MHz, from the cable table
# of an open transmission-line program; its direct-current term changes less than 0.6 % above 400 MHz and is left out.
K1, K2, M_PER_100_FT = 0.403833, 0.008761, 30.48


def tabled_db_per_m(frequency_mhz):
    return (K1 * np.sqrt(frequency_mhz) + K2 * frequency_mhz) / M_PER_100_FT


def test_typical_loss_follows_the_two_term_law_between_its_constants():
    # 2 m at 866, 900 and 928 MHz: 1.278, 1.3123, 1.341 dB by the same law, +4.9 % from 866 to 928 MHz
    loss_db = typical_loss_db(2.0, tabled_db_per_m(400.0), tabled_db_per_m(1000.0), np.array([866.0, 900.0, 928.0]))
    assert loss_db == pytest.approx([1.278, 1.3123, 1.341], abs=5e-4)
    assert loss_db[2] / loss_db[0] - 1 == pytest.approx(0.049, abs=5e-4)


def test_a_reading_moved_across_the_band_by_skin_effect_alone_stays_within_two_hundredths():
    # the square root gives +3.5 % from 866 to 928 MHz, the two-term law of this cable +4.9 %: 0.018 dB on 2 m,
    # far inside the 0.15 dB of a reading; the rule is the root because the cable's own second term is seldom known
    tabled_866, tabled_928 = 2 * tabled_db_per_m(866.0), 2 * tabled_db_per_m(928.0)
    moved = reference_loss_db(tabled_866, 866.0, NAN, 928.0)
    assert moved / tabled_866 == pytest.approx(np.sqrt(928 / 866), rel=1e-14)
    assert abs(moved - tabled_928) == pytest.approx(0.018, abs=5e-4)


def test_temperature_agrees_with_a_published_worked_example():
    # an engineering tip on attenuation against temperature: 0.0011 per °F from 68 °F (0.198 %/°C); 200 ft at
    # 0.055 dB/ft are 11.000 dB at 68 °F and 11.387 dB at 100 °F. Ours is 0.2 %/°C: 0.04 % apart over these 17.8 °C
    celsius = (100 - 32) / 1.8
    assert reference_loss_db(11.387, 900.0, celsius, 900.0) == pytest.approx(11.000, abs=0.005)


def test_temperature_agrees_with_copper_under_skin_effect():
    # copper +0.393 %/°C in resistance, its root in loss: 1.0386 at +20 °C against our 1.0400; 1.31 dB grows by 0.052 dB
    warm = 1.31 + 0.052
    assert reference_loss_db(warm, 900.0, 40.0, 900.0) == pytest.approx(1.31, abs=5e-4)
    assert reference_loss_db(np.sqrt(1 + 0.00393 * 20), 900.0, 40.0, 900.0) == pytest.approx(1.0, abs=1.5e-3)


def test_what_was_not_said_means_the_reference_frequency_and_20_degrees():
    assert reference_loss_db(1.31, NAN, NAN, 900.0) == 1.31


@pytest.mark.parametrize(
    ("frequency_mhz", "comparable"), [(859.9, False), (860.0, True), (960.0, True), (960.1, False)]
)
def test_a_single_reading_is_compared_within_860_to_960_mhz_only(frequency_mhz, comparable):
    assert np.isfinite(reference_loss_db(1.31, frequency_mhz, 20.0, 900.0)) == comparable


@given(
    loss_db=st.floats(0, 99),
    frequency_mhz=st.floats(860, 960),
    temperature_c=st.floats(-40, 70),
    reference_mhz=st.floats(860, 960),
)
def test_a_loss_brought_to_the_reference_and_back_is_the_same(loss_db, frequency_mhz, temperature_c, reference_mhz):
    there = reference_loss_db(loss_db, frequency_mhz, temperature_c, reference_mhz)
    back = there * np.sqrt(frequency_mhz / reference_mhz) * (1 + 0.002 * (temperature_c - 20))
    assert back == pytest.approx(loss_db, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    ("loss_db", "left", "twice"),
    # power that arrives behind a loss, and on the way there and back: 10^(-L/10) and 10^(-2L/10), recomputed to the
    # sixth decimal with a general-purpose library; 10 log10(2) = 3.0103 dB is half, 3 dB leaves 50.119 %
    [
        (0.1, 0.977237, 0.954993),
        (1, 0.794328, 0.630957),
        (1.31, 0.739605, 0.547016),
        (2, 0.630957, 0.398107),
        (2.5, 0.562341, 0.316228),
        (3, 0.501187, 0.251189),
        (3.0103, 0.500000, 0.250000),
        (6, 0.251189, 0.063096),
    ],
)
def test_the_power_that_arrives_is_that_of_the_decibel_tables(loss_db, left, twice):
    assert power_left(loss_db) == pytest.approx(left, abs=1e-6)
    # losses in series add in dB: what a one-port instrument sees comes through the cable twice
    assert power_left(2 * loss_db) == pytest.approx(twice, abs=1e-6)
