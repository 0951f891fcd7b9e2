"""Decibels, and losses brought to one frequency and temperature."""

import numpy as np

REFERENCE_TEMPERATURE_C = 20.0
# Copper's 0.393 %/°C in resistance is half of that in loss where the skin effect rules: 0.2 %/°C.
LOSS_PER_DEGREE = 0.002
COMPARABLE_MHZ = (860.0, 960.0)


def reference_loss_db(loss_db, frequency_mhz, temperature_c, reference_mhz):
    """Loss at the reference frequency and 20 °C; arrays of one shape in, the same shape out.

    `loss · sqrt(f_ref/f) / (1 + 0.002·(T − 20))`: skin effect, so loss grows with the root of the frequency.
    NaN frequency means the reference frequency, NaN temperature 20 °C. Outside 860–960 MHz a single
    reading is not comparable: NaN, as where the result is no finite number.
    """
    loss_db = np.asarray(loss_db, dtype=float)
    frequency = np.where(np.isnan(frequency_mhz), reference_mhz, frequency_mhz)
    temperature = np.where(np.isnan(temperature_c), REFERENCE_TEMPERATURE_C, temperature_c)
    comparable = (frequency >= COMPARABLE_MHZ[0]) & (frequency <= COMPARABLE_MHZ[1])
    with np.errstate(all="ignore"):
        by_frequency = loss_db * np.sqrt(reference_mhz / frequency)
        at_reference = by_frequency / (1 + LOSS_PER_DEGREE * (temperature - REFERENCE_TEMPERATURE_C))
    return np.where(comparable & np.isfinite(at_reference), at_reference, np.nan)


def typical_loss_db(length_m, db_per_m_400mhz, db_per_m_1000mhz, frequency_mhz):
    """Reckoned loss of a fresh cable without connectors: α(f) = k1·√f + k2·f through both constants.

    Two-term law of coax: conductor ∝ √f, dielectric ∝ f. Arrays broadcast.
    """
    root_low, root_high, root = np.sqrt(400.0), np.sqrt(1000.0), np.sqrt(frequency_mhz)
    k2 = (db_per_m_1000mhz / root_high - db_per_m_400mhz / root_low) / (root_high - root_low)
    k1 = db_per_m_400mhz / root_low - k2 * root_low
    return np.asarray(length_m) * (k1 * root + k2 * np.asarray(frequency_mhz))


def power_left(loss_db):
    """Share of the power that arrives behind a loss: 10^(−L/10); of the range of a link 10^(−L/20) is left."""
    return 10.0 ** (-np.asarray(loss_db, float) / 10)
