"""What would move without the readings of one cable: equal to solving the pool without them."""

from dataclasses import replace

import numpy as np
import pytest

from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.influence import influences
from inspections.numeric.likelihood import Deviance
from inspections.numeric.pool_model import fit_pool_model
from inspections.numeric.reading_blocks import lay_out, settled

LENGTHS_M = np.array([0.6, 2.1, 3.9])
SEGMENTS, STRANGE = 180, 11


@pytest.fixture(scope="module")
def pool():
    """Segments read four times on days with shifts of their own; one of the longest wears five times as fast."""
    rng = np.random.default_rng(4)
    segment, length_m = np.repeat(np.arange(SEGMENTS), 4), np.resize(LENGTHS_M, SEGMENTS)
    t = np.tile([0.1, 0.9, 2.0, 3.1], SEGMENTS) + rng.uniform(0, 0.05, 4 * SEGMENTS)
    day = (t * 10).astype(int) * 100 + segment % 3
    shift_db = dict(zip(np.unique(day).tolist(), rng.normal(0, 0.1, 1000), strict=False))
    rate = 0.05 + 0.1 * length_m * (1 + 0.2 * rng.normal(size=SEGMENTS))
    rate[STRANGE] *= 5
    loss_db = 0.1 + 0.6 * length_m[segment] + rate[segment] * t + [shift_db[key] for key in day.tolist()]
    readings = FitReadings.of(segment, t, loss_db + rng.normal(0, 0.05, len(t)), day=day)
    model, left_out = fit_pool_model(readings, length_m)
    return model, replace(readings, left_out=left_out), length_m


def expected_without(pool, segment, length_m):
    """The day on which the mean of a length reaches 3 dB, solved anew without a segment at the same parameters."""
    model, readings, lengths_m = pool
    points = model.points
    kept = readings.take((readings.segment != segment) & ~readings.left_out)
    blocks = tuple(lay_out(kept, lengths_m, points.keys, points.scale))
    deviance = Deviance(blocks, points.columns, len(points.keys), float(points.sigma2[0]))
    values = deviance.solutions(points.relative, points.sigma2)[0].values[0, : len(points.columns)]
    t = np.linspace(0, 60, 600_001)
    mean_db = values @ points.columns.of(np.full(len(t), length_m), t, settled(t))
    return np.interp(3.0, mean_db, t)


def test_what_moves_is_what_a_pool_without_the_cable_says(pool):
    found = influences(*pool, LENGTHS_M, limit_db=3.0, within=60)
    for row, length_m in enumerate(LENGTHS_M):
        for segment in (0, 5, STRANGE):
            without = expected_without(pool, segment, length_m)
            # one step of Newton from the old crossing to the new one
            tolerance = 1e-4 + 0.02 * abs(found.later[row, segment])
            assert found.expected[row] + found.later[row, segment] == pytest.approx(without, abs=tolerance)


def test_the_cable_that_wears_otherwise_than_all_others_moves_its_length_most(pool):
    found = influences(*pool, LENGTHS_M, limit_db=3.0, within=60)
    row = pool[2][STRANGE] == LENGTHS_M
    assert np.abs(found.later[row]).argmax() == STRANGE
    assert found.later[row, STRANGE] > 0


def test_a_length_that_reaches_the_limit_too_late_to_matter_is_moved_by_nobody(pool):
    expected = influences(*pool, LENGTHS_M, limit_db=3.0, within=60).expected
    near = influences(*pool, LENGTHS_M, limit_db=3.0, within=expected[1])
    assert np.isnan(near.expected).tolist() == [True, False, False]
    assert np.isnan(near.later[0]).all() and np.isfinite(near.later[1:]).all()
