"""When a reading is read again before it is believed."""

import numpy as np
import pytest
from scipy.stats import norm

from inspections.numeric.far_readings import FAR_SDS, is_far


@pytest.mark.parametrize(
    ("loss_db", "uncertainty_db", "sd_db", "far"),
    [
        (1.85, 0.15, 0.0, False),
        (1.96, 0.15, 0.0, True),
        # as far below: leads taken out twice, or another cable
        (1.04, 0.15, 0.0, True),
        # the uncertainty of what was expected counts as well
        (1.96, 0.15, 0.15, False),
        # surely another one, and too little to trouble anybody
        (1.79, 0.01, 0.01, False),
        (1.80, 0.01, 0.01, False),
        (1.81, 0.01, 0.01, True),
    ],
)
def test_both_conditions_must_hold(loss_db, uncertainty_db, sd_db, far):
    assert bool(is_far(loss_db, uncertainty_db, 1.5, sd_db)) is far


def test_three_in_a_thousand_sound_readings_are_asked_about():
    """Two-sided beyond three standard deviations: 0.0027 (normal table)."""
    rng, many = np.random.default_rng(11), 200_000
    asked = is_far(rng.normal(1.5, 0.2, many), 0.2, 1.5, 0.0).mean()
    assert 2 * norm.sf(FAR_SDS) == pytest.approx(0.0027, abs=5e-5)
    assert asked == pytest.approx(0.0027, abs=5e-4)


def test_what_is_not_known_is_not_far():
    assert not is_far(np.nan, 0.1, 1.5, 0.1)
    assert not is_far(1.5, 0.1, np.nan, 0.1)
