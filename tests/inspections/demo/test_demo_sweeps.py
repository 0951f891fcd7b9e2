"""The kept sweeps of the demo pool."""

from collections import Counter

import pytest

from inspections.demo.services import fill_demo_pool
from inspections.models import Sweep
from inspections.numeric.sweeps.losses import loss_at
from inspections.numeric.sweeps.reading import read_sweep
from inspections.sweep_files import kept_sweep_file

pytestmark = pytest.mark.django_db


def test_a_dozen_sweeps_of_a_few_cables_agree_with_their_readings(today):
    fill_demo_pool(today)
    sweeps = list(Sweep.objects.select_related("reading"))
    assert list(Counter(sweep.segment_id for sweep in sweeps).values()) == [3, 3, 3, 3]
    for sweep in sweeps:
        read = read_sweep(kept_sweep_file(sweep.sha256))
        # the file is written to four places of a dB
        assert loss_at(read, sweep.at_mhz).loss_db == pytest.approx(sweep.reading.loss_db, abs=5e-5)
        assert sweep.reading.voided_on is None
