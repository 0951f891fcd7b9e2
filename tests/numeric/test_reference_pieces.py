"""How far a reference piece may be off, and what is proposed as its value."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from inspections.numeric.reference_pieces import (
    ACTION_SDS,
    USUAL_REPEATABILITY_DB,
    WARNING_SDS,
    departure_sd_db,
    is_beyond,
    proposed_value,
)


def test_the_limits_are_those_of_a_control_chart():
    """Of undisturbed values 4.6 % lie beyond the warning and 0.27 % beyond the action limits: NIST/SEMATECH
    e-handbook, 6.3.1, from memory (the shares are those of the normal distribution)."""
    beyond = [2 * norm.sf(sds) for sds in (WARNING_SDS, ACTION_SDS)]
    assert beyond == [pytest.approx(0.0455, abs=5e-5), pytest.approx(0.0027, abs=5e-5)]
    off_db = 0.05 * np.random.default_rng(1).standard_normal(200_000)
    # the share has a standard deviation of sqrt(0.0027 / 200,000)
    assert np.mean(is_beyond(off_db, 0.05)) == pytest.approx(0.0027, abs=5e-4)


def test_what_is_not_known_is_the_usual_and_without_a_value_nothing_is_beyond():
    # 3-4-5
    assert departure_sd_db([0.03, np.nan], [0.04, 0.0]) == pytest.approx([0.05, USUAL_REPEATABILITY_DB])
    assert is_beyond([0.151, 0.149, -0.151, np.nan], 0.05).tolist() == [True, False, True, False]


def test_a_value_is_the_mean_of_the_days_with_the_uncertainty_of_a_mean():
    """JCGM 100:2008, 4.2.3: the experimental variance of the mean is s² / n. By hand: the days have means 1.40, 1.44,
    1.42, of standard deviation 0.02; six readings of repeatability 0.06."""
    found = proposed_value([1, 1, 1, 2, 2, 3], [1.39, 1.40, 1.41, 1.43, 1.45, 1.42], 0.06)
    assert found == (pytest.approx(1.42), pytest.approx(np.sqrt(0.02**2 / 3 + 0.06**2 / 6)), 6, 3)


@pytest.mark.parametrize("days", [[], [1, 2, 3, 4], [1, 1, 1, 2, 2, 2], [1] * 9])
def test_four_readings_or_two_days_are_too_few(days):
    assert proposed_value(days, [1.4] * len(days)) is None


@given(st.lists(st.tuples(st.integers(1, 6), st.floats(0, 20)), min_size=1, max_size=30))
def test_a_proposed_value_lies_among_the_readings(readings):
    days, losses = zip(*readings, strict=True)
    found = proposed_value(days, losses)
    assert (found is None) == (len(days) < 5 or len(set(days)) < 3)
    if found:
        assert min(losses) - 1e-9 <= found.loss_db <= max(losses) + 1e-9
        assert found.uncertainty_db >= USUAL_REPEATABILITY_DB / np.sqrt(len(days))
