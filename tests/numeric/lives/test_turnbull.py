"""The observed curve against publications, and against counting."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from life_data import (
    MANY_RUNNING,
    MANY_RUNNING_FAILED,
    NEVER,
    NIST_FAILED,
    TRIAL_FAILED,
    TRIAL_RUNNING,
    WHEEL_HOURS,
    drawn_pool,
    entered_late,
    fay_shaw,
    rad,
    wheels,
    with_running,
)
from published import channing

from inspections.numeric.lives.records import Lives
from inspections.numeric.lives.turnbull import fit_turnbull, resampled_shares


def test_fay_and_shaw_table_2():
    """(L, R]: 3/14 in (9, 10] and in (10, 12]; closed intervals would give 3/7 at 10."""
    fitted = fit_turnbull(fay_shaw())
    assert list(zip(fitted.left, fitted.right, strict=True)) == [(2, 3), (5, 6), (9, 10), (10, 12)]
    assert fitted.mass == pytest.approx([2 / 7, 2 / 7, 3 / 14, 3 / 14], abs=1e-9)


def test_finkelstein_and_wolfe_as_fay_and_shaw_have_it():
    fitted = fit_turnbull(rad())
    spans = [(4, 5), (6, 7), (7, 8), (11, 12), (24, 25), (33, 34), (38, 40), (46, 48)]
    assert list(zip(fitted.left, fitted.right, strict=True)) == spans
    printed = [0.0463, 0.0334, 0.0887, 0.0708, 0.0926, 0.0818, 0.1209, 0.4656]
    assert fitted.mass == pytest.approx(printed, abs=5e-5)


def test_wheels_that_were_each_inspected_once():
    """Nelson 1982. Of one look each the estimate is the shares at each age, made to rise (pooled adjacent violators):
    4/53 and 2/33 become 6/86, and so on."""
    expected = [0, 6 / 86, 6 / 86, 7 / 73, 5 / 30, 18 / 81, 18 / 81, 6 / 13, 43 / 74, 43 / 74, 21 / 36]
    assert fit_turnbull(wheels()).share_over(WHEEL_HOURS) == pytest.approx(expected, abs=1e-9)


def test_tubes_of_one_plant_inspected_every_year():
    """Meeker & Escobar 1998, chapter 3: 1, 2 and 2 of 100 cracked in the first, second and third year."""
    low, high = np.repeat([0, 1, 2, 3], [1, 2, 2, 95]), np.repeat([1, 2, 3, NEVER], [1, 2, 2, 95])
    fitted = fit_turnbull(Lives.of(low, high))
    assert fitted.share_over([1, 2, 3]) == pytest.approx([0.01, 0.03, 0.05], abs=1e-12)
    assert fitted.most_over([1, 2, 3]) == pytest.approx([0.01, 0.03, 0.05], abs=1e-12)
    assert (fitted.share_over(2.5), fitted.most_over(2.5)) == pytest.approx((0.03, 0.05), abs=1e-12)


def test_exact_ages_give_the_product_limit():
    """NIST/SEMATECH e-Handbook 8.2.1.5; data and first terms read there, the others derived. In 6-MP (Freireich and
    others 1963, data `drug6mp` of KMsurv) the printed values have four decimals."""
    handbook = with_running([10, 32, 56, 98, 122, 181], [50, 100, 125, 150] + [200] * 10)
    survival = 1 - fit_turnbull(handbook).share_over([10, 32, 56, 98, 122, 181])
    assert survival == pytest.approx([0.95, 0.90, 0.847059, 0.794118, 0.737395, 0.670359], abs=1e-6)
    trial = with_running(TRIAL_FAILED, TRIAL_RUNNING)
    survival = 1 - fit_turnbull(trial).share_over([6, 7, 10, 13, 16, 22, 23])
    assert survival == pytest.approx([0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482], abs=5e-5)
    assert fit_turnbull(trial).age_at(0.5)[1] == 23


def test_the_handbook_without_a_tie():
    """NIST/SEMATECH e-Handbook 8.2.2.1: half of the twenty are left after the last failure."""
    assert fit_turnbull(with_running(NIST_FAILED, [500] * 10)).share_over(386) == pytest.approx(0.5, abs=1e-9)


def test_many_that_go_on():
    """Documentation of the package `reliability`, Kaplan-Meier."""
    survival = 1 - fit_turnbull(with_running(MANY_RUNNING_FAILED, MANY_RUNNING)).share_over(MANY_RUNNING_FAILED)
    printed = [0.964286, 0.925714, 0.885466, 0.845217, 0.795499, 0.742465, 0.685353, 0.616817, 0.539715, 0.269858]
    assert survival == pytest.approx(printed, abs=1e-6)


def test_tubes_of_three_plants_that_were_watched_for_one_two_and_three_years():
    """Meeker & Escobar 1998, chapter 3 (from memory): 4 of 300, 5 of 197 and 2 of 95 cracked in each year."""
    low, high = [0, 1, 1, 2, 2, 3], [1, NEVER, 2, NEVER, 3, NEVER]
    lives = Lives.of(*(np.repeat(ends, [4, 99, 5, 97, 2, 93]) for ends in (low, high)))
    assert len(lives) == 300
    assert fit_turnbull(lives).share_over([1, 2, 3]) == pytest.approx([0.0133, 0.0384, 0.0586], abs=1e-4)


@pytest.mark.parametrize(("group", "half", "ignoring"), [("men", 1009, 1053), ("women", 1021, 1056)])
def test_half_of_channing_house(group, half, ignoring):
    """Data of KMsurv; medians derived with lifelines 0.30.3. Who is not there yet cannot die there."""
    lives = channing(group)
    assert fit_turnbull(lives).age_at(0.5)[1] == half
    assert fit_turnbull(Lives.of(lives.low, lives.high)).age_at(0.5)[1] == ignoring


def test_late_entries_are_truncated():
    """By hand: of those watched just before each age, the share that goes there."""
    ends, over = np.array([2, 3, 4, 5, 6, 7, 8.0]), np.array([1, 0, 1, 1, 0, 1, 0], bool)
    lives = Lives.of(ends, np.where(over, ends, NEVER), [0, 0, 1, 3.5, 4.5, 4.5, 0])
    assert 1 - fit_turnbull(lives).share_over([2, 4, 5, 7]) == pytest.approx([0.75, 0.5, 0.375, 0.1875], abs=1e-9)


# shares over by 1, 2 and 3 years: surpyval 0.25, `turnbull_estimator="Kaplan-Meier"`. Of twelve drawn pools it agreed
# on ten; on the two others its own answer has the lower likelihood
LATE = [
    (1, [0.06787032, 0.07389864, 0.33030618]),
    (3, [0.5, 0.58902251, 0.68687429]),
    (7, [0.66666667, 0.69418952, 0.77011599]),
]


@pytest.mark.parametrize(("seed", "shares"), LATE)
def test_late_entries_agree_with_another_program(seed, shares):
    assert fit_turnbull(entered_late(seed)).share_over([1, 2, 3]) == pytest.approx(shares, abs=1e-6)


def test_what_outlives_all_checks_ends_nowhere():
    fitted = fit_turnbull(Lives.of([1, 2, 3, 3], [2, NEVER, NEVER, NEVER]))
    assert fitted.right[-1] == np.inf
    assert fitted.age_at(0.5) == (np.inf, np.inf)
    assert fitted.age_at(0.2) == (1, 2)


@given(st.integers(0, 10_000), st.booleans())
@settings(max_examples=30)
def test_no_other_shares_have_a_higher_likelihood(seed, late):
    """At the maximum no mass that is moved anywhere gains (Kuhn-Tucker), whatever the lives. With late entries steps
    end a little before it: 200 drawn pools that began elsewhere ended within 1e-6."""
    lives = drawn_pool(seed, mats=6, cables=4)
    if late:
        entry = np.minimum(lives.low, np.random.default_rng(seed).uniform(0, 2, len(lives)))
        lives = Lives.of(lives.low, lives.high, entry)
    fitted = fit_turnbull(lives)
    rng = np.random.default_rng(seed + 1)
    for _ in range(20):
        mass = np.maximum(fitted.mass + 0.05 * rng.standard_normal(len(fitted.mass)), 0)
        assert _log_likelihood(lives, fitted, mass / mass.sum()) <= fitted.log_likelihood + (1e-6 if late else 1e-9)


def _log_likelihood(lives, fitted, mass):
    within = (fitted.left >= lives.low[:, None]) & (fitted.right <= lives.high[:, None])
    seen, watched = within @ mass, (fitted.left >= lives.entry[:, None]) @ mass
    return np.log(seen / watched).sum() if seen.min() > 0 else -np.inf


def test_lives_drawn_anew_give_what_their_own_estimate_gives():
    lives = drawn_pool(1, mats=15)
    weights = np.random.default_rng(2).integers(0, 3, (3, len(lives))).astype(float)
    ages = np.array([1.0, 2.0, 3.0])
    least, most = resampled_shares(lives, fit_turnbull(lives), weights, ages)
    for row, counts in enumerate(weights.astype(int)):
        alone = fit_turnbull(lives.take(np.repeat(np.arange(len(lives)), counts)))
        # where other spans hold the mass, both still lie between the least and the most that can be over
        assert (least[row] <= alone.most_over(ages) + 0.01).all()
        assert (most[row] >= alone.share_over(ages) - 0.01).all()
