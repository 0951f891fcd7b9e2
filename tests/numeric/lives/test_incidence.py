"""Causes of their own, against counting by hand."""

import numpy as np
import pytest

from inspections.numeric.lives.incidence import incidence, resampled_incidence


def test_what_another_cause_ended_is_not_counted_again():
    """By hand; one minus the survival of the cause alone would be .1 .2125 .37 .685."""
    found = incidence(np.arange(1, 11), np.array([1, 2, 1, 0, 2, 1, 2, 0, 1, 0]), of=1)
    assert found.share_by([1, 3, 6, 9]) == pytest.approx([0.1, 0.2, 0.316667, 0.491667], abs=1e-6)


def test_who_came_late_counts_from_then_on():
    """By hand: three, four, four and two are watched; entry ignored it would be .8571 .6857 .5143 .2571."""
    cause = np.array([1, 0, 1, 1, 0, 1, 0])
    found = incidence([2, 3, 4, 5, 6, 7, 8], cause, 1, [0, 0, 1, 3.5, 4.5, 4.5, 0])
    assert 1 - found.share_by([2, 4, 5, 7]) == pytest.approx([0.75, 0.5, 0.375, 0.1875], abs=1e-6)
    assert 1 - incidence([2, 3, 4, 5, 6, 7, 8], cause, 1).share_by([2, 4, 5, 7]) == pytest.approx(
        [0.8571, 0.6857, 0.5143, 0.2571], abs=5e-5
    )


def test_both_causes_and_what_goes_on_make_all():
    rng = np.random.default_rng(7)
    ended, cause = rng.uniform(0, 5, 300).round(1), rng.integers(1, 3, 300)
    shares = [incidence(ended, cause, of).share_by(5.0) for of in (1, 2)]
    assert sum(shares) == pytest.approx(1, abs=1e-12)


def test_a_life_that_counts_twice_is_two():
    ended, cause, entry = np.array([1, 2, 3, 4.0]), np.array([1, 2, 1, 0]), np.array([0, 1.5, 0, 2])
    weights = np.array([[2, 0, 1, 3], [1, 1, 1, 1]])
    for age in (0.5, 1, 3, 9):
        drawn = resampled_incidence(ended, cause, 1, entry, weights.astype(float), age)
        for share, twice in zip(drawn, weights, strict=True):
            repeated = [np.repeat(column, twice) for column in (ended, cause, entry)]
            assert share == pytest.approx(incidence(*repeated[:2], 1, repeated[2]).share_by(age), abs=1e-12)
