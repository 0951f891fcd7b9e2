"""Weibull lives against publications, and against what other programs made of the same likelihood."""

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
    all_kinds,
    bearing_cages,
    cracked_parts,
    drawn_pool,
    entered_late,
    fans,
    rad,
    wheels,
    with_running,
)
from published import channing, diabetes
from scipy.optimize import brentq
from scipy.stats import chi2

from inspections.numeric.lives.records import Lives
from inspections.numeric.lives.weibull import Weibull, fit_weibull, resampled_weibulls

# expected values are given with five or six digits: these are the last ones
DIGITS = 1e-4


def profile_interval(lives, fitted):
    """(low, high) of the shape, 95 %, by the likelihood ratio, with the scale fitted at each shape (Meeker & Escobar
    1998, 8.3; clause from memory)."""
    least = fitted.log_likelihood - chi2.ppf(0.95, 1) / 2

    def above(ln_shape):
        return fit_weibull(lives, np.exp(ln_shape)).log_likelihood - least

    middle = np.log(fitted.shape)
    return tuple(np.exp([brentq(above, end, middle) for end in (-3.0, 4.0)]).tolist())


def test_lives_of_all_kinds_at_once_agree_with_two_other_programs():
    """Spans, an exact age, late entries, lives that go on, one over at its first check: see `ALL_KINDS`."""
    fitted = fit_weibull(all_kinds())
    assert (fitted.shape, fitted.scale) == pytest.approx((3.40712, 35.42429), abs=DIGITS)
    assert fitted.log_likelihood == pytest.approx(-19.86009, abs=DIGITS)
    assert (fitted.se_ln_shape, fitted.se_ln_scale) == pytest.approx((0.34970, 0.10669), abs=DIGITS)
    assert fitted.survival(36) == pytest.approx(0.34768, abs=DIGITS)
    assert profile_interval(all_kinds(), fitted) == pytest.approx((1.545, 6.277), abs=1e-3)


def test_what_the_same_lives_must_not_give():
    """Entry ignored; the day of finding taken for the day of failing; that and what did not fail left out."""
    lives = all_kinds()
    as_found = Lives.of(np.where(lives.is_over, lives.high, lives.low), lives.high, lives.entry)
    wrong = [fit_weibull(each) for each in (Lives.of(lives.low, lives.high), as_found, as_found.take(lives.is_over))]
    assert [each.shape for each in wrong] == pytest.approx([3.579, 4.982, 5.762], abs=1e-3)
    assert [each.scale for each in wrong] == pytest.approx([35.54, 35.96, 31.32], abs=1e-2)


# (seed, shape, scale, log likelihood): surpyval 0.25, and lifelines 0.30.3, which agrees with it to 1e-5 of each
LATE = [
    (1, 1.655320, 5.411706, -48.183282),
    (3, 1.921344, 4.322983, -51.088322),
    (7, 2.181051, 4.074374, -53.079199),
]


@pytest.mark.parametrize(("seed", "shape", "scale", "log_likelihood"), LATE)
def test_late_entries_agree_with_two_other_programs(seed, shape, scale, log_likelihood):
    """Neither is a package of these tests: one wants an older pandas than the app, the other brings its drawings."""
    fitted = fit_weibull(entered_late(seed))
    assert (fitted.shape, fitted.scale) == pytest.approx((shape, scale), abs=2e-5)
    assert fitted.log_likelihood == pytest.approx(log_likelihood, abs=1e-6)


def test_parts_inspected_in_turn_agree_with_nelson():
    """Nelson 1982: 1.485, 71.69 (from memory); more digits by a likelihood of our own beside this one."""
    fitted = fit_weibull(cracked_parts())
    assert (fitted.shape, fitted.scale) == pytest.approx((1.48537, 71.6904), abs=DIGITS)
    assert fitted.log_likelihood == pytest.approx(-309.668, abs=1e-3)
    assert (fitted.se_ln_shape, fitted.se_ln_scale) == pytest.approx((0.0987, 0.0744), abs=DIGITS)


def test_wheels_that_were_each_inspected_once():
    """Shape and scale as lifelines 0.30.3 and surpyval 0.25 have them."""
    fitted = fit_weibull(wheels())
    assert (fitted.shape, fitted.scale) == pytest.approx((2.17578, 46.7772), abs=DIGITS)
    assert fitted.log_likelihood == pytest.approx(-189.2872, abs=DIGITS)


def test_the_day_of_finding_is_no_day_of_failing():
    """What the two inspections must not give: much sharper lives, by the same two programs."""
    for lives, shape, scale in ((cracked_parts(), 1.888, 70.09), (wheels(), 4.79, None)):
        found = fit_weibull(Lives.of(np.where(lives.is_over, lives.high, lives.low), lives.high))
        assert found.shape == pytest.approx(shape, abs=5e-3)
        assert scale is None or found.scale == pytest.approx(scale, abs=5e-3)


def test_visits_that_were_missed():
    """Finkelstein & Wolfe 1985, group Rad; numbers of lifelines 0.30.3."""
    fitted = fit_weibull(rad())
    assert (fitted.shape, fitted.scale) == pytest.approx((1.12161, 57.5131), abs=DIGITS)
    assert fitted.log_likelihood == pytest.approx(-64.7315, abs=DIGITS)


def test_a_handbook_with_exact_ages():
    """NIST/SEMATECH e-Handbook 8.4.1.3: printed with four decimals of the shape, one of the mean."""
    fitted = fit_weibull(with_running(NIST_FAILED, [500] * 10))
    assert fitted.shape == pytest.approx(1.7208, abs=1e-4)
    assert fitted.scale == pytest.approx(606.5280, abs=5e-3)
    assert fitted.log_likelihood == pytest.approx(-75.135, abs=1e-3)
    assert fitted.mean == pytest.approx(540.737, abs=5e-3)


def test_twelve_of_seventy_fans():
    """Nelson 1982: 28 701 h to a failure (from memory), by chance alone; more digits by derivation."""
    lives = fans()
    assert (len(lives), lives.failures, lives.low.sum()) == (70, 12, 344_440)
    assert fit_weibull(lives, shape=1).mean == pytest.approx(28_703.3, abs=0.05)
    assert fit_weibull(lives, shape=1).mean == pytest.approx(28_701, rel=1e-3)
    fitted = fit_weibull(lives)
    assert (fitted.shape, fitted.scale) == pytest.approx((1.05845, 26_296.8), rel=1e-5)


def test_many_that_go_on():
    """Documentation of the package `reliability`; its data with a Weibull life, derived."""
    fitted = fit_weibull(with_running(MANY_RUNNING_FAILED, MANY_RUNNING))
    assert (fitted.shape, fitted.scale) == pytest.approx((1.15443, 134_651), rel=1e-5)


def test_a_trial_with_ties():
    """6-MP; derived. By chance alone 9 in 359 weeks."""
    lives = with_running(TRIAL_FAILED, TRIAL_RUNNING)
    fitted = fit_weibull(lives)
    assert (fitted.shape, fitted.scale) == pytest.approx((1.353735, 33.76515), abs=DIGITS)
    assert 1 / fit_weibull(lives, shape=1).scale == pytest.approx(0.025070, abs=1e-6)


# lifelines 0.30.3; a likelihood written apart agrees to 3e-6
DIABETES = [(None, 2.82349, 18.8565), ("female", 2.64557, 18.0911), ("male", 2.95835, 19.3296)]


@pytest.mark.parametrize(("group", "shape", "scale"), DIABETES)
def test_known_years_and_spans_together(group, shape, scale):
    fitted = fit_weibull(diabetes(group))
    assert (fitted.shape, fitted.scale) == pytest.approx((shape, scale), abs=DIGITS)


def test_known_years_and_spans_have_one_likelihood():
    lives = diabetes()
    assert (len(lives), np.count_nonzero(lives.is_exact)) == (731, 595)
    assert fit_weibull(lives).log_likelihood == pytest.approx(-2028.5661, abs=DIGITS)


# Channing House: derived with lifelines 0.30.3; shape where entries are ignored
CHANNING = [("men", 94, 44, 8.2602, 1010.81, 15.55), ("women", 358, 129, 9.6110, 1057.92, 14.94)]


@pytest.mark.parametrize(("group", "lives", "died", "shape", "scale", "ignoring"), CHANNING)
def test_who_came_late_is_not_counted_before(group, lives, died, shape, scale, ignoring):
    watched = channing(group)
    assert (len(watched), watched.failures) == (lives, died)
    fitted = fit_weibull(watched)
    assert fitted.shape == pytest.approx(shape, abs=1e-4)
    assert fitted.scale == pytest.approx(scale, abs=5e-3)
    assert fit_weibull(Lives.of(watched.low, watched.high)).shape == pytest.approx(ignoring, abs=5e-3)


def test_six_failures_among_1703():
    """Bearing cages: shape, scale and the age at 10 % from memory of both books, more digits by derivation."""
    lives = bearing_cages()
    fitted = fit_weibull(lives)
    assert (len(lives), lives.failures) == (1703, 6)
    assert (fitted.shape, fitted.scale) == pytest.approx((2.0353, 11792.2), rel=DIGITS)
    assert fitted.age_at(0.10) == pytest.approx(3903, abs=0.5)
    assert profile_interval(lives, fitted) == pytest.approx((0.971, 3.580), abs=1e-3)
    # by the normal distribution of the logarithms: too few failures to say more than that of the scale
    ends = np.array([-1.959964, 1.959964])
    assert fitted.shape * np.exp(ends * fitted.se_ln_shape) == pytest.approx([1.072, 3.864], abs=1e-3)
    assert fitted.scale * np.exp(ends * fitted.se_ln_scale) == pytest.approx([2295, 60601], rel=1e-3)
    held = [fit_weibull(lives, shape) for shape in (1.5, 2, 3)]
    assert [each.scale for each in held] == pytest.approx([28982, 12320, 5409], abs=0.5)
    assert [each.age_at(0.10) for each in held] == pytest.approx([6465, 3999, 2555], abs=0.5)


def test_facts_of_the_distribution():
    for shape in (0.7, 1.0, 2.0, 3.4394):
        life = Weibull(shape, 50.0)
        assert life.share_over(50) == pytest.approx(0.632121, abs=1e-6)
        assert life.share_over(life.age_at(0.05)) == pytest.approx(0.05, abs=1e-12)
    assert (Weibull(1, 1).mean, Weibull(2, 1).mean) == pytest.approx((1, 0.886227), abs=1e-6)
    assert Weibull(2, 1).age_at(0.5) == pytest.approx(0.832555, abs=1e-6)
    assert Weibull(2.5, 60).age_at(0.10) == pytest.approx(60 * (-np.log(0.9)) ** (1 / 2.5), rel=1e-12)
    assert Weibull(1, 50).mean == pytest.approx(50, rel=1e-12)
    assert Weibull(3.4394, 1).mean == pytest.approx(Weibull(3.4394, 1).age_at(0.5), abs=1e-4)


# shape, scale in months; share over by 36, and in the year before of those that were within at 24: derived
THREE_YEARS = [(2.5, 60, 0.243350, 0.162775), (3, 48, 0.344184, 0.256863)]


@pytest.mark.parametrize(("shape", "scale", "over", "in_the_last_year"), THREE_YEARS)
def test_what_a_rule_of_three_years_does(shape, scale, over, in_the_last_year):
    life = Weibull(shape, scale)
    assert life.share_over(36) == pytest.approx(over, abs=1e-6)
    assert 1 - life.survival(36) / life.survival(24) == pytest.approx(in_the_last_year, abs=1e-6)


def test_none_over_has_no_life_and_one_look_at_one_age_no_shape():
    assert fit_weibull(Lives.of([1, 2, 3], NEVER)) is None
    assert not fit_weibull(Lives.of([2.0] * 20 + [3.0] * 20, [NEVER] * 20 + [3.1] * 20)).settled


@given(st.integers(0, 2**32 - 1), st.floats(0.1, 100))
@settings(max_examples=25)
def test_neither_the_order_nor_the_unit_of_ages_changes_what_is_said(seed, unit):
    lives = drawn_pool(seed % 1000, mats=12)
    rng = np.random.default_rng(seed)
    order = rng.permutation(len(lives))
    other = Lives.of(lives.low[order] * unit, lives.high[order] * unit)
    one, two = fit_weibull(lives), fit_weibull(other)
    assert (two.shape, two.scale / unit) == pytest.approx((one.shape, one.scale), rel=1e-6)


def test_a_life_drawn_twice_counts_as_two_lives():
    lives = drawn_pool(3, mats=10)
    weights = np.random.default_rng(5).integers(0, 3, (4, len(lives))).astype(float)
    shapes, scales = resampled_weibulls(lives, fit_weibull(lives), weights)
    for row, counts in enumerate(weights.astype(int)):
        alone = fit_weibull(lives.take(np.repeat(np.arange(len(lives)), counts)))
        assert (shapes[row], scales[row]) == pytest.approx((alone.shape, alone.scale), rel=1e-4)
