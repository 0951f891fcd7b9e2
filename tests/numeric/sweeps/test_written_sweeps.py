"""Whatever sweep is written, in whatever way files allow, is read as what was written."""

from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sizes import examples
from sweep_files import DRAW

from inspections.numeric.sweeps.losses import loss_at
from inspections.numeric.sweeps.reading import read_sweep
from inspections.numeric.words import FarEnd

# twelve digits are written, of losses up to 60 dB
TOLERANCE_DB = 1e-6
NOTICES = {"sorted": "sorted", "commas": "decimal commas", "D": "written with D"}


@pytest.mark.parametrize("draw", DRAW, ids=lambda draw: draw.__name__)
def test_what_is_written_is_read_back(draw):
    @settings(max_examples=examples(100))
    @given(st.integers(0, 2**32 - 1))
    def reads_back(seed):
        content, truth = draw(Random(seed))
        sweep = read_sweep(content)
        loss_db, name = (sweep.loss_db, "21") if truth.ports == 2 else (sweep.return_loss_db, "11")
        read = np.transpose([sweep.frequency_mhz, loss_db])
        np.testing.assert_allclose(read, truth.db(name), rtol=1e-12, atol=TOLERANCE_DB)
        said = " ".join(sweep.warnings)
        assert {kind for kind, words in NOTICES.items() if words in said} == truth.notices
        _reads_each_point(sweep, truth)

    reads_back()


def _reads_each_point(sweep, truth):
    if truth.ports == 2:
        for at_mhz, loss_db in truth.db("21"):
            assert loss_at(sweep, at_mhz).loss_db == pytest.approx(loss_db, abs=TOLERANCE_DB)
    elif sweep.points == 1:
        ((at_mhz, return_loss_db),) = truth.db("11")
        assert loss_at(sweep, at_mhz, far_end=FarEnd.OPEN).loss_db == pytest.approx(
            return_loss_db / 2, abs=TOLERANCE_DB
        )
