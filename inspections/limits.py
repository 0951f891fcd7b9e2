"""What readings and instruments may hold: more rows of the table in `fleet/limits.py`."""

from math import nextafter

from fleet.limits import NO_POINT, Limit, Slip

from .numeric.sample_draws import LARGEST_SEED

# No bench instrument measures 100 dB; such a number has lost its decimal point (131 for 1.31).
LARGEST_LOSS_DB = 100
# Behind 20 dB a hundredth of the power is left: a broken cable, or a decimal point lost.
UNLIKELY_LOSS_DB = 20
READING_LOSS = Limit(
    "loss", "dB", 0, 0, nextafter(UNLIKELY_LOSS_DB, 0), nextafter(LARGEST_LOSS_DB, 0), NO_POINT, asks=False
)
# 400 and 1000 MHz are where attenuation is stated; mats work in between.
FREQUENCY = Limit(
    "frequency",
    "MHz",
    1,
    400,
    1000,
    10_000,
    (
        Slip("GHz", lambda typed: typed * 1000),
        Slip("kHz", lambda typed: typed / 1000),
        Slip("Hz", lambda typed: typed / 1e6),
    ),
)
# Benches stand in depots; connectors are rated for more than people work in.
TEMPERATURE = Limit("temperature", "°C", -40, -20, 45, 70, (Slip("°F", lambda typed: (typed - 32) / 1.8),))
# Analysers reach 0.05 dB, power meters 0.3.
UNCERTAINTY = Limit("standard uncertainty", "dB", 0.001, 0.01, 1, 10, NO_POINT)
# What a go/no-go tester may be set to: as the loss limit of the policy.
LOSS_LIMIT = Limit("set limit", "dB", 0.1, 0.5, 10, 20, NO_POINT)
# Who measures has a week or two; a mat takes an hour.
SAMPLE_SIZE = Limit("sample", "mats", 1, 1, 200, 10_000, whole=True)
SEED = Limit("seed", "", 0, 0, LARGEST_SEED, LARGEST_SEED, whole=True)
MATS_AGAIN = Limit("number of mats", "mats", 0, 0, 200, 10_000, whole=True)
# Where half of all are over nobody needs a sample; a thousandth no pool is large enough to show.
SHARE_PERCENT = Limit("share", "%", 0.1, 1, 30, 50)
SHARE = Limit("share", "", 0.001, 0.01, 0.3, 0.5)
# Below 80 % nobody is convinced.
CONFIDENCE_PERCENT = Limit("confidence", "%", 50, 80, 99.9, 99.9)
CONFIDENCE = Limit("confidence", "", 0.5, 0.8, 0.999, 0.999)
