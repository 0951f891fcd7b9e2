"""Wander and its forecast, as statsmodels 0.15.0 has them: tests/data/crossed/README.md section 2.

UnobservedComponents("lldtrend"), its smoother, of one segment whose mean line is known; printed to nine decimals.
"""

import numpy as np
import pytest
from pool_fits import states_at

from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.pool_model import PoolModel
from inspections.numeric.pool_points import PoolPoints
from inspections.numeric.segment_trends import Segments, assess_segments, path_of
from inspections.numeric.words import Clock

SIGMA2 = 0.0049
READINGS = FitReadings.of(np.zeros(6), [0, 0.5, 1.5, 2, 3.5, 4], [1.31, 1.22, 1.85, 1.79, 2.40, 2.95])
# t: loss and covariance (xx, xb); the rate is 0.377639195 with variance 0.001984936 at all times
SMOOTHED = {
    0: (1.220162569, 0.003153007, -0.000692899),
    2: (1.882350020, 0.002541498, 0.000023326),
    4: (2.816964996, 0.003295563, 0.000692835),
    6: (3.572243386, 0.031406648, 0.004662707),
    10: (5.082800166, 0.135267276, 0.012602450),
}


@pytest.fixture
def known_pool():
    """PoolModel of a pool of which everything is known: line 1.2 + .30 t, D, q and sigma."""
    points = PoolPoints(
        scale=1.0,
        with_length=False,
        settling=False,
        weight=np.ones(1),
        variances=np.array([[0.09], [-0.004], [0.0081], [0.0087], [0.0]]) / SIGMA2,
        sigma2=np.array([SIGMA2]),
        values=np.array([[1.2, 0.30]]),
        shift_db=np.zeros((1, 0)),
        fixed=1e-14 * np.eye(2)[None],
        fixed_day=np.zeros((1, 2, 0)),
        day=np.zeros((1, 0)),
        between=np.zeros((0, 0)),
        keys=np.zeros(0, np.int64),
        day_readings=np.zeros(0, np.int64),
    )
    return PoolModel(Clock.YEARS, 1, 6, None, points, None)


@pytest.mark.parametrize("t", SMOOTHED)
def test_state_at_a_time_is_that_of_the_smoother(known_pool, t):
    states, (x, cxx, cxb) = states_at(known_pool, READINGS, np.ones(1), t), SMOOTHED[t]
    assert (states.level[0], states.rate[0]) == pytest.approx((x, 0.377639195), abs=1e-9)
    assert (states.c00[0], states.c01[0], states.c11[0]) == pytest.approx((cxx, cxb, 0.001984936), abs=1e-9)


def test_path_is_that_of_the_smoother_and_of_the_forecast(known_pool):
    mean, sd = path_of(known_pool, READINGS, 1.0, list(SMOOTHED))
    assert mean == pytest.approx([x for x, _, _ in SMOOTHED.values()], abs=1e-9)
    assert sd == pytest.approx([np.sqrt(cxx) for _, cxx, _ in SMOOTHED.values()], abs=1e-8)


def test_forecast_goes_on_from_the_last_reading_alone(known_pool):
    # what is kept of a segment: state at t = 4 and q; the forecast from it is the smoother's
    states = assess_segments(known_pool, READINGS, Segments.of([1.0], 5.0)).states
    assert states.q[0] == pytest.approx(0.0087)
    for t in (6, 10):
        x, cxx, _ = SMOOTHED[t]
        assert states.at(t - 4)[0] == pytest.approx(x, abs=1e-8)
        assert states.sd_at(t - 4)[0] == pytest.approx(np.sqrt(cxx), abs=1e-8)
