"""Kept sweeps of the demo pool: files of two ports, made to agree with readings that are there."""

from collections import defaultdict

import numpy as np

from ..models import Measurement, Sweep
from ..numeric.words import InstrumentKind, Method
from ..sweep_files import keep_sweep_file
from ..sweeps.reading_services import read_as
from ..sweeps.services import SweepToKeep, sweep_row

SEED = 20_170_312
CABLES, SWEEPS_EACH = 4, 3
# "": nobody said what the instrument is
SAVES_SWEEPS = ("", InstrumentKind.TWO_PORT, InstrumentKind.RESPONSE_ONLY)
FREQUENCIES_MHZ = np.linspace(800, 1000, 101)
NOISE_DB, RIPPLE_DB = 0.008, 0.02
COMMENTS = "! Fenmark Lending Pool, bench analyser, two ports\n! 101 points\n"


def keep_demo_sweeps(*, by):
    """A dozen sweeps of a few cables on several days, each behind a reading of the demo pool."""
    random = np.random.default_rng(SEED)
    sweeps = [_kept(reading, random, by) for reading in _readings()]
    Sweep.objects.bulk_create(sweeps)
    return sweeps


def _readings():
    """The newest readings of a few cables that are in a mat and were read most often, by what saves sweeps."""
    usable = Measurement.objects.filter(voided_on=None, no_signal=False, go_no_go="", method="", repeat=1)
    usable = usable.filter(segment__fittings__removed_on=None, instrument__kind__in=SAVES_SWEEPS)
    by_cable = defaultdict(list)
    for reading in usable.select_related("segment__cable_type").order_by("segment__serial", "-measured_on"):
        by_cable[reading.segment_id].append(reading)
    often = sorted(by_cable.values(), key=lambda readings: (-len(readings), readings[0].segment.serial))
    return [reading for readings in often[:CABLES] for reading in readings[:SWEEPS_EACH]]


def _kept(reading, random, by):
    at_mhz = reading.frequency_mhz or 900.0
    content = sweep_file(reading.loss_db, at_mhz, reading.segment.length_m, random)
    name = f"{reading.segment.serial}_{reading.measured_on:%Y%m%d}.s2p"
    file = SweepToKeep(reading.segment, reading.measured_on, Method.THROUGH, name, keep_sweep_file(content), content)
    return sweep_row(file, read_as(content, Method.THROUGH, reference_mhz=at_mhz), reading, by)


def sweep_file(loss_db, at_mhz, length_m, random):
    """Bytes of a Touchstone file whose loss at that frequency is exactly this one; random: a seeded generator."""
    period_mhz = 299.8 * 0.66 / (2 * max(length_m, 0.3))
    ripple = RIPPLE_DB * np.sin(2 * np.pi * FREQUENCIES_MHZ / period_mhz + random.uniform(0, 6))
    shape = ripple + random.normal(0, NOISE_DB, FREQUENCIES_MHZ.size)
    losses = loss_db * np.sqrt(FREQUENCIES_MHZ / at_mhz) + shape - np.interp(at_mhz, FREQUENCIES_MHZ, shape)
    losses = np.where(np.isclose(FREQUENCIES_MHZ, at_mhz), loss_db, losses)
    reflections = 24 + random.normal(0, 0.5, FREQUENCIES_MHZ.size)
    rows = "".join(
        f"{frequency:g} {-back:.3f} 0 {-loss:.4f} {-angle:.2f} {-loss:.4f} {-angle:.2f} {-back:.3f} 0\n"
        for frequency, loss, back, angle in zip(
            FREQUENCIES_MHZ, losses, reflections, (FREQUENCIES_MHZ * length_m * 1.82) % 180, strict=True
        )
    )
    return f"{COMMENTS}# MHz S DB R 50\n{rows}".encode("ascii")
