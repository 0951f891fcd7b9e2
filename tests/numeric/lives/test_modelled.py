"""Lives of fresh cables as the fitted trend says, against direct simulation and against what the trend itself says."""

from dataclasses import replace

import numpy as np
import pytest
from drawn_pools import fitted_pool

from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.lives.modelled import Kinds, drawn_lives, fresh_lives
from inspections.numeric.reading_blocks import settled
from inspections.numeric.segment_trends import Segments, assess_segments

NO_READINGS = FitReadings.of(np.zeros(0, int), np.zeros(0), np.zeros(0))
LENGTHS = np.array([0.6, 1.1, 2.1, 3.0])
AGES = np.array([0.0, 0.5, 1, 2, 4, 6, 8, 12, 20])
HORIZON = 40.0


@pytest.mark.parametrize("segments", [40, 300])
def test_the_age_limit_is_the_early_date_of_a_cable_without_a_reading(segments):
    model, kinds = fitted_pool(segments), Kinds.of(LENGTHS, limit_db=2.5, accepted_risk=0.1)
    asked = Segments.of(LENGTHS, 4.0, limit_db=2.5, accepted_risk=0.1)
    trends, lives = assess_segments(model, NO_READINGS, asked), fresh_lives(model.points, kinds)
    assert lives.ages_at(0.1, HORIZON) == pytest.approx(trends.early, abs=1e-3)
    assert lives.share_over([4.0])[0] == pytest.approx(trends.chance_over, abs=1e-6)


@pytest.mark.parametrize("segments", [40, 300])
def test_the_curve_is_that_of_cables_worn_one_by_one(segments):
    """400,000 cables of each length: parameters, level, rate and wander drawn and written down as the model has it,
    rising ones kept. What is left out of the curve, as of every date of the trend, is how uncertain mu is: with few
    cables 0.008 of a share, with more 0.004."""
    model, rng, count = fitted_pool(segments), np.random.default_rng(1), 400_000
    points, shares = model.points, []
    for length_m in LENGTHS:
        g = rng.choice(len(points.weight), count, p=points.weight)
        root = np.linalg.cholesky(points.fixed * points.sigma2[:, None, None])
        values = points.values[g] + np.einsum("nab,nb->na", root[g], rng.standard_normal((count, root.shape[-1])))
        mu = 1.5 * values[:, 4]
        c00, c01, c11, q = (points.variances[:4] * points.sigma2)[:, g]
        u, z = np.sqrt(c00) * rng.standard_normal(count), rng.standard_normal(count)
        v = c01 / c00 * u + np.sqrt(c11 - c01**2 / c00) * z
        level, rate = values[:, 0] + values[:, 1] * length_m + u, values[:, 2] + values[:, 3] * length_m + v
        rising = rate >= 0
        share = []
        for age in AGES:
            t = age / points.scale
            loss_db = level + rate * t + np.sqrt(q * t) * rng.standard_normal(count) + mu * settled(age)
            share.append((loss_db >= 3.0 - np.maximum(points.settling_db[g], 0) / 4)[rising].mean())
        shares.append(share)
    found = fresh_lives(points, Kinds.of(LENGTHS)).share_over(AGES)
    drawn = np.array(shares).T
    assert np.abs(found - drawn).max() < 4 * 0.5 / np.sqrt(count) + (0.008 if segments == 40 else 0.004)
    assert (np.diff(found, axis=0) >= -1e-9).all()


@pytest.mark.parametrize("segments", [40, 300])
def test_drawn_parameters_together_say_what_the_curve_says(segments):
    """Their mean curve is the curve: to the scatter of 256 draws, and what mu adds that is not known."""
    points, kinds = fitted_pool(segments).points, Kinds.of(LENGTHS)
    whole, drawn = fresh_lives(points, kinds), drawn_lives(points, kinds)
    apart = drawn.shares_apart(AGES)
    assert apart.shape == (256, len(AGES), len(LENGTHS))
    assert np.abs(apart.mean(axis=0) - whole.share_over(AGES)).max() < 0.03
    ages = drawn.ages_apart(0.05, HORIZON)
    at = whole.ages_at(0.05, HORIZON)
    low, high = np.percentile(ages, [5, 95], axis=0, method="inverted_cdf")
    assert ((low < at) & (at < high))[np.isfinite(at)].all()
    row = int(np.flatnonzero(np.isfinite(ages[:, 2]))[0])
    one = drawn.shares_apart(ages[row])[row]
    assert one[2, 2] == pytest.approx(0.05, abs=1e-4)


def test_more_readings_make_the_limit_surer():
    widths = []
    for segments in (40, 300):
        ages = drawn_lives(fitted_pool(segments).points, Kinds.of([2.1])).ages_apart(0.05, HORIZON)
        widths.append(np.ptp(np.percentile(ages, [5, 95])))
    assert widths[1] < widths[0] / 1.5


def test_as_an_instrument_shows_it_readings_scatter_and_no_quarter_is_met():
    """By a formula: a reading of a fresh cable of one point is normal about its line, as variable as the cables, the
    fixed part, a bench day and a reading are together."""
    from scipy.special import ndtr

    points, kinds = fitted_pool(300).points, Kinds.of(LENGTHS, 2.0)
    points = replace(points, values=points.values + np.array([0, 0, 0, 0, 0.2]))
    sigma2, v, shown = points.sigma2[0], points.relative, fresh_lives(points, kinds, as_read=True)
    t, f = 2.0 / points.scale, settled(2.0)
    at = points.columns.of(LENGTHS, np.full(4, t), np.full(4, f))
    fixed = at[:4]
    of_pool = np.einsum("ak,ab,bk->k", fixed, points.fixed[0, :4, :4], fixed)
    variance = sigma2 * (v.c00 + 2 * t * v.c01 + t * t * v.c11 + t * v.wander + of_pool + 1 + v.day)
    assert shown.falls.tolist() == [False] * 4
    # that a rate is known to rise moves a share by less than a hundredth
    assert shown.share_over([2.0])[0] == pytest.approx(
        ndtr((points.values[0] @ at - 2.0) / np.sqrt(variance)), abs=0.01
    )
    without = fresh_lives(points, kinds).share_over([0.0])[0]
    assert (shown.share_over([0.0])[0] >= without).all()


def test_an_accepted_risk_that_is_none_is_refused():
    with pytest.raises(ValueError, match="accepted risk"):
        Kinds.of([1.0], accepted_risk=0.0)
