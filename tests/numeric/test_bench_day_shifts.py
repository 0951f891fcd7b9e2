"""Shifts of bench days: before and after a refit, of a day with one reading, and with reference pieces.

It takes the place of the test of days that stand off (a mean residual with a P-value): a shift is part of the model.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from crossed_sets import CROSSED, crossed
from dense_trend import DenseTrend, Parameters
from drawn_pools import SmallPool
from pool_fits import plugged_in, states_at

from inspections.numeric.bench_day_shifts import (
    day_shift,
    lone_shifts,
    predict,
    tau2,
    without_own,
)
from inspections.numeric.fit_readings import ALONE, FitReadings
from inspections.numeric.pool_fit import fit_pool
from inspections.numeric.reference_pieces import PieceReadings

SEGMENTS, DAYS, SIGMA_DB, TAU_DB = 60, 24, 0.05, 0.08


@cache
def bench(seed, together=False):
    """(SmallPool, true shifts): 24 bench days in five years, a quarter of the segments on each, fitted at any time of
    four years before, or all `together`; no wander."""
    rng = np.random.default_rng(seed)
    segment, day = np.nonzero(rng.random((SEGMENTS, DAYS)) < 0.25)
    fitted_before = rng.uniform(0, 4, SEGMENTS) * (not together)
    x, shift = day * 0.2 + fitted_before[segment], TAU_DB * rng.standard_normal(DAYS)
    level, rate = 1.2 + 0.1 * rng.standard_normal(SEGMENTS), 0.3 + 0.05 * rng.standard_normal(SEGMENTS)
    y = level[segment] + rate[segment] * x + shift[day] + SIGMA_DB * rng.standard_normal(len(segment))
    return SmallPool(FitReadings.of(segment, x, y, day=day), np.ones(SEGMENTS)), shift


@cache
def before_and_after(seed, together=False):
    """Of the last day: (shift, sd) from a fit without it, and from one with it, and the true shift."""
    pool, shift = bench(seed, together)
    last = pool.readings.day == DAYS - 1
    before, after = pool.readings.take(~last), pool.readings.take(last)
    model = plugged_in(before, pool.length_m)
    expected = predict(model, before, after, pool.length_m)
    _, count, found, sd = day_shift(model, after.day, after.loss_db - expected.mean_db, expected)
    assert count.tolist() == [last.sum()]
    days = plugged_in(*pool).days
    return found[0], sd[0], days.shift_db[-1], days.sd_db[-1], shift[-1]


SEEDS = range(6)


@pytest.mark.parametrize(("seed", "together"), [(0, False), (1, False), (2, True), (3, True)])
def test_shift_of_a_new_day_before_and_after_a_refit_agree_within_their_uncertainty(seed, together):
    before, sd_before, after, sd_after, _ = before_and_after(seed, together)
    # the refit learns of the other days and of all variances besides
    assert abs(before - after) < 0.5 * sd_after
    assert sd_before == pytest.approx(sd_after, rel=0.3)


def test_shift_of_a_day_is_told_as_surely_as_it_says():
    before, sd_before, after, sd_after, true = np.array([before_and_after(seed) for seed in SEEDS]).T
    # of six normal numbers the root of the mean square lies below 1.5 with a probability of 0.96
    for shift, sd in ((before, sd_before), (after, sd_after)):
        assert np.sqrt(np.mean(((shift - true) / sd) ** 2)) < 1.5
    assert np.abs(before - true).mean() < 0.4 * np.abs(true).mean()


def test_own_reading_is_left_out_of_the_shift_that_corrects_it():
    pool, _ = bench(0)
    last = pool.readings.day == DAYS - 1
    before, after = pool.readings.take(~last), pool.readings.take(last)
    model = plugged_in(before, pool.length_m)
    expected = predict(model, before, after, pool.length_m)
    residual = after.loss_db - expected.mean_db
    _, _, shift, sd = day_shift(model, after.day, residual, expected)
    ours = without_own(model, shift, sd, residual, expected)
    for j in (0, 7):
        others = np.arange(len(residual)) != j
        by_hand = day_shift(model, after.day[others], residual[others], expected.take(others))[2:]
        # what is shared with the others is taken from the one reading, not from the mean of all
        assert (ours[0][j], ours[1][j]) == pytest.approx((by_hand[0][0], by_hand[1][0]), rel=0.1, abs=2e-3)


def test_day_on_which_nothing_else_was_read_says_nothing_of_a_reading():
    pool, _ = bench(0)
    last = np.flatnonzero(pool.readings.day == DAYS - 1)[:1]
    before, after = pool.readings.take(pool.readings.day < DAYS - 1), pool.readings.take(last)
    model = plugged_in(before, pool.length_m)
    expected = predict(model, before, after, pool.length_m)
    residual = after.loss_db - expected.mean_db
    _, _, shift, sd = day_shift(model, after.day, residual, expected)
    found = without_own(model, shift, sd, residual, expected)
    assert [part[0] for part in found] == pytest.approx([0.0, model.fit.bench_day_sd_db], abs=1e-6)


def test_a_new_reading_corrected_by_its_day_moves_a_segment_as_the_refit_does():
    pool, _ = bench(1)
    last = pool.readings.day == DAYS - 1
    before, after = pool.readings.take(~last), pool.readings.take(last)
    model, refitted = plugged_in(before, pool.length_m), plugged_in(*pool)
    expected = predict(model, before, after, pool.length_m)
    residual = after.loss_db - expected.mean_db
    _, _, *whole = day_shift(model, after.day, residual, expected)
    shift, sd = without_own(model, *whole, residual, expected)
    unknown = np.full(len(before.x), np.nan)
    corrected = replace(
        pool.readings.take(np.r_[np.flatnonzero(~last), np.flatnonzero(last)]),
        shift_db=np.r_[unknown, shift],
        shift_sd_db=np.r_[unknown, sd],
    )
    ours = states_at(model, corrected, pool.length_m, 5.0)
    theirs = states_at(refitted, pool.readings, pool.length_m, 5.0)
    assert np.abs(ours.level - theirs.level).max() < np.sqrt(theirs.c00).mean()
    assert np.sqrt(ours.c00) == pytest.approx(np.sqrt(theirs.c00), rel=0.3)


def test_day_with_a_single_reading_has_the_shift_that_lme4_gives_it():
    segment, day, x, y, length_m = crossed("a")
    readings = FitReadings.of(segment, x, y, day=day)
    model = plugged_in(readings, length_m, with_length=True, settling=False, wander=False)
    keys, shift, sd = lone_shifts(model, readings, length_m)
    assert keys.tolist() == [1]
    assert shift[0] == pytest.approx(CROSSED["a"]["days"][1], abs=1e-5)
    parameters = Parameters.of_fit(model.fit, settling=False)
    dense = DenseTrend(segment, x, y, length_m, parameters, day).days([1])
    assert (shift[0], sd[0]) == pytest.approx((dense.mean[0], dense.sd[0]), rel=1e-6)


# --- reference pieces: kept cables of agreed loss


def pieces_of(difference_db, repeatability_db, value_sd_db, days=DAYS):
    """One piece, read once on each day."""
    each = np.ones(days)
    return PieceReadings(
        np.zeros(days, int), np.arange(days), difference_db * each, repeatability_db * each, value_sd_db * each
    )


def test_a_perfect_piece_gives_what_subtraction_would():
    pool, shift = bench(2)
    fit = fit_pool(*pool, pieces=pieces_of(shift, 1e-5, 0.0)).fit
    day = pool.readings.day
    alone = np.full(len(day), ALONE)
    subtracted = replace(pool.readings, loss_db=pool.readings.loss_db - shift[day], day=alone)
    plain = fit_pool(subtracted, pool.length_m).fit
    assert fit.coefficients == pytest.approx(plain.coefficients, abs=1e-5)
    assert fit.standard_errors == pytest.approx(plain.standard_errors, rel=1e-3)
    assert fit.deviations == pytest.approx(plain.deviations, rel=1e-3, abs=1e-5)
    assert fit.residual_sd == pytest.approx(plain.residual_sd, rel=1e-4)
    # and the spread of bench days is that of the shifts
    assert fit.bench_day_sd_db == pytest.approx(np.sqrt(np.mean(shift**2)), rel=1e-3)


@pytest.mark.parametrize(("repeatability_db", "value_sd_db"), [(1e4, 0.0), (0.05, 1e4)])
def test_a_useless_piece_changes_nothing(repeatability_db, value_sd_db):
    pool, _ = bench(3)
    # once: of a piece whose value nobody knows the differences between days would still say something
    pieces = pieces_of(0.3, repeatability_db, value_sd_db, days=1 if value_sd_db else DAYS)
    with_piece, without = (fit_pool(*pool, pieces=each).fit for each in (pieces, None))
    assert with_piece.coefficients == pytest.approx(without.coefficients, abs=1e-5)
    assert with_piece.theta == pytest.approx(without.theta, rel=1e-3, abs=1e-4)
    assert with_piece.residual_sd == pytest.approx(without.residual_sd, rel=1e-5)


def test_a_piece_tells_the_shift_of_a_new_day_as_well():
    pool, shift = bench(2)
    last = pool.readings.day == DAYS - 1
    before, after = pool.readings.take(~last), pool.readings.take(last)
    model = plugged_in(before, pool.length_m)
    expected = predict(model, before, after, pool.length_m)
    found = {}
    for name, sds in {"none": None, "useless": (1e4, 0.0), "fair": (0.02, 0.01), "perfect": (1e-6, 0.0)}.items():
        pieces = sds and pieces_of(shift, *sds)
        _, _, *found[name] = day_shift(model, after.day, after.loss_db - expected.mean_db, expected, pieces)
    assert np.ravel(found["useless"]) == pytest.approx(np.ravel(found["none"]), rel=1e-6)
    assert np.ravel(found["perfect"]) == pytest.approx([shift[-1], 0.0], abs=1e-5)
    # derived: the normal posterior of what the cables say and one further term
    (cables,), (sd,) = found["none"]
    precision = 1 / sd**2 + 1 / (0.02**2 + 0.01**2)
    fair = (cables / sd**2 + shift[-1] / (0.02**2 + 0.01**2)) / precision
    assert np.ravel(found["fair"]) == pytest.approx([fair, precision**-0.5], rel=1e-9)


def test_a_reading_is_taken_out_of_its_day_and_the_piece_stays():
    pool, shift = bench(2)
    last = pool.readings.day == DAYS - 1
    before, after = pool.readings.take(~last), pool.readings.take(last)
    model = plugged_in(before, pool.length_m)
    expected = predict(model, before, after, pool.length_m)
    residual, pieces = after.loss_db - expected.mean_db, pieces_of(shift, 0.03, 0.01)
    _, _, *whole = day_shift(model, after.day, residual, expected, pieces)
    ours = without_own(model, *(part.repeat(len(residual)) for part in whole), residual, expected, after.day, pieces)
    # of a day with this reading alone nothing but the piece is left
    alone = slice(0, 1)
    one = day_shift(model, after.day[alone], residual[alone], expected.take(alone), pieces)[2:]
    left = without_own(model, *one, residual[alone], expected.take(alone), after.day[alone], pieces)
    precision = 1 / tau2(model) + 1 / (0.03**2 + 0.01**2)
    by_hand = shift[-1] / (0.03**2 + 0.01**2) / precision, precision**-0.5
    assert np.ravel(left) == pytest.approx(by_hand, rel=1e-6)
    # and of a whole day less than all of it
    assert (ours[1] > whole[1]).all() and (ours[1] < precision**-0.5).all()


def test_pieces_are_readings_of_known_level_in_the_dense_matrix():
    pool, shift = bench(4)
    rng = np.random.default_rng(4)
    pieces = pieces_of(shift + 0.03 + 0.02 * rng.standard_normal(DAYS), 0.02, 0.05)
    optimum = fit_pool(*pool, pieces=pieces)
    cables = DenseTrend(*pool.dense_parts(), Parameters.of_fit(optimum.fit), pool.readings.day, fixed_terms=2)
    tau2, count = cables.parameters.tau2, len(cables.y)
    v = np.zeros((count + DAYS, count + DAYS))
    v[:count, :count] = cables.covariance
    v[count:, count:] = 0.05**2 + (0.02**2 + tau2) * np.eye(DAYS)
    v[:count, count:] = tau2 * (pool.readings.day[:, None] == pieces.day)
    v[count:, :count] = v[:count, count:].T
    design = np.vstack([cables.design, np.zeros((DAYS, 2))])
    y = np.r_[cables.y, pieces.difference_db]
    inverse = np.linalg.inv(v)
    covariance = np.linalg.inv(design.T @ inverse @ design)
    beta = covariance @ design.T @ inverse @ y
    assert optimum.fit.coefficients == pytest.approx(beta, abs=1e-7)
    assert optimum.fit.standard_errors == pytest.approx(np.sqrt(np.diag(covariance)), rel=1e-6)
    with_day = tau2 * (np.arange(DAYS)[:, None] == np.r_[pool.readings.day, pieces.day])
    shifts = optimum.solution.values[0, 3:] * optimum.fit.theta[4]
    assert shifts == pytest.approx(with_day @ inverse @ (y - design @ beta), abs=1e-7)


def test_a_piece_at_two_benches_tells_them_apart():
    # each cable stays at its depot: without a piece a fixed offset of 0.3 dB looks like its level (trend.md section 4)
    rng = np.random.default_rng(5)
    segment = np.repeat(np.arange(40), 6)
    day = np.tile(np.arange(6), 40) * 2 + segment % 2
    x, offset = (day // 2) * 0.7, 0.3 * (day % 2)
    level = 1.2 + 0.4 * rng.standard_normal(40)
    y = level[segment] + 0.3 * x + offset + 0.05 * rng.standard_normal(240)
    pool = SmallPool(FitReadings.of(segment, x, y, day=day), np.ones(40))
    pieces = PieceReadings(np.zeros(12, int), np.arange(12), 0.3 * (np.arange(12) % 2), *np.full((2, 12), 0.01))
    without, with_piece = plugged_in(*pool), plugged_in(*pool, pieces=pieces)
    levels = [states_at(model, pool.readings, pool.length_m, 0.0).level - level for model in (without, with_piece)]
    apart = [found[1::2].mean() - found[::2].mean() for found in levels]
    assert apart[0] > 0.1
    assert abs(apart[1]) < 0.03
