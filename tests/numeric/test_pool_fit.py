"""The pooled fit against closed forms, printed results and two independent computations; sources beside each.

All of these know no bench days, wander or settling: they are the boundary of the same model. With bench days:
test_crossed_model.py; with wander and settling: test_likelihood.py and test_wear_states.py against dense matrices.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from drawn_pools import draw_pool
from pool_fits import states_at, straight_fit, straight_model
from published import FOLDER, grouped

from inspections.numeric import fit_search
from inspections.numeric.crossings import Limits, chance_over, crossing_time
from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.likelihood import Deviance
from inspections.numeric.pool_fit import fit_pool
from inspections.numeric.reading_blocks import lay_out
from inspections.numeric.segment_trends import Segments, assess_segments
from inspections.numeric.wear_model import FixedColumns
from inspections.numeric.wear_states import SegmentStates


def readings_of(name, x_scale=1.0):
    segment, x, y, names = grouped(name)
    return FitReadings.of(segment, x / x_scale, y), np.ones(len(names)), names


def fit_set(name, x_scale=1.0):
    readings, length_m, _ = readings_of(name, x_scale)
    return straight_fit(readings, length_m)


def lines_of_set(name, x_scale=1.0):
    """(PoolFit, SegmentStates at 0) of a set."""
    readings, length_m, _ = readings_of(name, x_scale)
    model = straight_model(readings, length_m)
    return model.fit, states_at(model, readings, length_m, 0.0)


def plain_limit(limit):
    """Limits where nothing settles."""
    return Limits(np.array([float(limit)]), 0.0, np.zeros(1), True)


# Balanced sets have a closed form, which the "exact" values are; hence seven digits. Bates, Maechler, Bolker & Walker
# 2015, J. Stat. Softw. 67(1), print the same to the digits of their optimiser.
def test_sleepstudy_agrees_with_its_closed_form():
    fit = fit_set("sleepstudy")
    assert fit.coefficients == pytest.approx([251.4051048485, 10.4672859596], rel=1e-7)
    assert fit.standard_errors == pytest.approx([6.8245565321, 1.5457888963], rel=1e-7)
    assert fit.deviations == pytest.approx((24.7404514644, 5.9221331037, 0.0655513197), rel=1e-7)
    assert (fit.residual_sd, fit.sigma2) == pytest.approx((25.5918156267, 654.9410270723), rel=1e-7)
    assert fit.minus_two_log == pytest.approx(1743.6282719585, rel=1e-10)
    assert not fit.at_boundary


def test_sleepstudy_agrees_with_the_print_of_lme4():
    fit = fit_set("sleepstudy")
    assert fit.coefficients == pytest.approx([251.405, 10.467], abs=5e-4)
    assert fit.standard_errors == pytest.approx([6.825, 1.546], abs=5e-4)
    assert (*fit.deviations, fit.residual_sd) == pytest.approx((24.74066, 5.922138, 0.066, 25.5918), abs=5e-4)


def test_relative_cholesky_factor_of_sleepstudy():
    # as lme4 has it (0.96674, 0.01517, 0.23091 printed; figures from memory): digits of the closed form
    theta = fit_set("sleepstudy").theta
    assert theta[:3] == pytest.approx((0.9667329520, 0.0151690543, 0.2309095948), rel=1e-7)
    assert theta[3:].tolist() == [0, 0]


def test_all_conditional_modes_of_sleepstudy():
    fit, lines = lines_of_set("sleepstudy")
    modes = np.column_stack([lines.level, lines.rate]) - fit.coefficients
    printed = pd.read_csv(FOLDER / "sleepstudy_modes.csv", dtype={"subject": str})
    assert list(printed.subject) == readings_of("sleepstudy")[2]
    # lme4's optimiser stops about 1e-5 relative short of the optimum
    assert modes == pytest.approx(printed[["u0", "u1"]].to_numpy(), abs=5e-4)
    exact = [[2.2585655, 9.1989719], [-40.3985802, -8.6197027], [-38.9602490, -5.4488794]]
    assert modes[:3] == pytest.approx(np.array(exact), rel=1e-7, abs=5e-8)


def test_conditional_covariance_of_sleepstudy():
    # lme4's "postVar" leaves out the uncertainty of the fixed part
    readings, length_m, _ = readings_of("sleepstudy")
    model = straight_model(readings, length_m)
    known = replace(model.points, fixed=1e-14 * np.eye(2)[None])
    states = states_at(replace(model, points=known), readings, length_m, 0.0)
    covariance = np.array([states.c00, states.c01, states.c11]).T
    assert covariance == pytest.approx(np.tile([145.7051037, -21.4444266, 5.3122737], (18, 1)), rel=1e-7)
    assert covariance[0] == pytest.approx([145.7056, -21.444504, 5.312283], abs=5e-4)  # printed


def test_unbalanced_sleepstudy_with_single_readings_and_pairs():
    # own deterministic subset of 91 rows; values from two independent optimisers
    readings, length_m, _ = readings_of("sleepstudy")
    readings = readings.take(readings.x <= readings.segment % 10)
    assert len(readings.x) == 91
    model = straight_model(readings, length_m)
    fit, lines = model.fit, states_at(model, readings, length_m, 0.0)
    assert fit.coefficients == pytest.approx([253.9917544, 10.8499865], rel=1e-5)
    assert fit.standard_errors == pytest.approx([7.1285672, 2.8766218], rel=1e-5)
    assert fit.deviations == pytest.approx((27.494855, 9.831255, -0.394423), rel=1e-5)
    assert fit.residual_sd == pytest.approx(16.353965, rel=1e-5)
    assert fit.minus_two_log / -2 == pytest.approx(-413.5257669442, rel=1e-10)
    modes = np.column_stack([lines.level, lines.rate]) - fit.coefficients
    expected = [[-3.27360, 0.46168], [-36.71853, -1.37667], [-13.21370, 1.86357], [-6.13342, -2.90384]]
    assert modes[[0, 1, 10, 11]] == pytest.approx(np.array(expected), rel=1e-5, abs=5e-6)


def test_orthodont_agrees_with_its_closed_form_and_nlme():
    fit = fit_set("orthodont")
    assert fit.coefficients == pytest.approx([16.7611111111, 0.6601851852], rel=1e-7)
    assert fit.standard_errors == pytest.approx([0.7752461852, 0.0712532708], rel=1e-7)
    assert fit.deviations == pytest.approx((2.3270359159, 0.2264278845, -0.6093332842), rel=1e-7)
    assert fit.sigma2 == pytest.approx(1.7162037037, rel=1e-7)
    assert fit.minus_two_log / -2 == pytest.approx(-221.3183429421, rel=1e-10)
    # Pinheiro & Bates 2000, as nlme prints it
    printed = (2.3270341, 0.2264278, -0.609, 1.3100397)
    assert (*fit.deviations, fit.residual_sd) == pytest.approx(printed, rel=6e-4)
    assert fit.standard_errors == pytest.approx([0.7752460, 0.0712533], rel=1e-4)


def test_orthodont_does_not_depend_on_where_time_begins():
    # about the age of 11; no wear clock goes below 0, and FitReadings.of would not have it
    readings, length_m, _ = readings_of("orthodont")
    plain, centred = (straight_fit(replace(readings, x=readings.x - start), length_m) for start in (0, 11))
    assert centred.minus_two_log == pytest.approx(plain.minus_two_log, rel=1e-12)
    assert (centred.sigma2, centred.deviations[1]) == pytest.approx((plain.sigma2, plain.deviations[1]), rel=1e-9)
    assert centred.deviations[0] == pytest.approx(2.1343289, rel=1e-6)
    assert centred.deviations[2] == pytest.approx(0.503, abs=5e-4)
    assert (centred.coefficients[0], centred.standard_errors[0]) == pytest.approx((24.023148, 0.4296601), rel=1e-6)


LASER_POOLED_HOURS = (
    "3703.3 4189.8 5796.3 6132.2 5331.5 3597.0 6075.5 6516.8 5101.2 3307.4 5314.7 4985.0 4734.4 5720.6 6111.0"
)


def test_lasers_agree_with_their_closed_form():
    # Meeker & Escobar 1998, Table C.17; time in 1000 h
    fit = fit_set("lasers", x_scale=1000)
    assert fit.coefficients == pytest.approx([0.0094937255, 2.0432], rel=1e-7)
    assert fit.standard_errors == pytest.approx([0.0464245782, 0.1241764518], rel=1e-7)
    assert fit.deviations == pytest.approx((0.1588824246, 0.4795922085, -0.3550044148), rel=1e-7)
    assert fit.residual_sd == pytest.approx(0.1812418898, rel=1e-7)
    assert fit.minus_two_log / -2 == pytest.approx(12.1890084602, rel=1e-10)


def test_median_pooled_crossings_of_the_lasers():
    readings, length_m, _ = readings_of("lasers", x_scale=1000)
    trends = assess_segments(straight_model(readings, length_m), readings, Segments.of(length_m, 4.0, limit_db=10))
    published = np.array(LASER_POOLED_HOURS.split(), float)
    # printed to a tenth of an hour; what lies before the last reading is halved down to 0.03 h
    assert 1000 * trends.expected == pytest.approx(published, abs=0.1)


def test_three_lasers_crossed_by_the_end():
    # Meeker & Escobar 1998: units 101, 106, 110; interpolated between readings
    segment, hours, percent, names = grouped("lasers")
    crossed = {}
    for row, name in enumerate(names):
        mine = percent[segment == row]
        over = np.flatnonzero(mine >= 10)
        if over.size:
            crossed[name] = float(
                np.interp(10, mine[over[0] - 1 : over[0] + 1], hours[segment == row][over[0] - 1 : over[0] + 1])
            )
    assert crossed == pytest.approx({"101": 3780.75, "106": 3522.91, "110": 3374.44}, abs=0.01)


def test_a_new_laser_crosses_as_its_kind():
    # recomputed from the closed form: 5/10/50/90 % of new units crossed, and P(T <= 4000, 5000, 6000 h)
    readings, length_m, _ = readings_of("lasers", x_scale=1000)
    none = FitReadings.of([], [], [])
    new = states_at(straight_model(readings, length_m), none, np.ones(1), 0.0)
    quantiles = [1000 * crossing_time(new, plain_limit(10), p)[0] for p in (0.05, 0.1, 0.5, 0.9)]
    assert quantiles == pytest.approx([3525.2, 3755.3, 4889.6, 7043.8], abs=0.05)
    assert [chance_over(new, t, 10)[0] for t in (4, 5, 6)] == pytest.approx([0.17305, 0.53707, 0.78157], abs=5e-6)


def test_bladder_volume_of_a_new_subject():
    # Brown 1993, Measurement, Regression and Calibration, with the variances at their published estimates (independent
    # at volume 0, which the pooled fit does not assume): fixed part and inverse prediction at 500, recomputed.
    segment, volume, hd, names = grouped("bladder")
    sigma = 53.7150060
    blocks = tuple(lay_out(FitReadings.of(segment, volume, hd**1.5), np.ones(len(names)), np.array([], int), 1.0))
    deviance = Deviance(blocks, FixedColumns(with_length=False, settling=False), 0)
    solution = deviance.at((39.6261091 / sigma, 0.0, 14.2883556 / sigma, 0.0, 0.0)).solution
    assert solution.values[0] == pytest.approx([-53.8316957, 69.0949121], rel=1e-5)
    c = sigma**2 * solution.inverse[0]
    assert np.sqrt(np.diag(c)) == pytest.approx([11.6033516, 3.1136342], rel=1e-5)
    spread = c[0, 0] + 39.6261091**2 + sigma**2, c[0, 1], c[1, 1] + 14.2883556**2, 0.0
    reading = SegmentStates(*np.array([*solution.values[0], *spread])[:, None])
    assert crossing_time(reading, plain_limit(500), 0.5)[0] == pytest.approx(8.0155207, rel=1e-5)
    bounds = [crossing_time(reading, plain_limit(500), p)[0] for p in (0.025, 0.975)]
    assert bounds == pytest.approx([5.1506239, 14.2003765], rel=1e-5)


def simulated_pool(seed, segments=60, lengths=(0.6, 1.1, 2.1, 3.0)):
    """Unbalanced: one to six readings a segment, some segments with none."""
    rng = np.random.default_rng(seed)
    length_m = rng.choice(lengths, segments)
    segment = np.repeat(np.arange(segments), rng.integers(0, 7, segments))
    x = np.round(rng.uniform(0, 4, len(segment)), 2)
    level = 0.2 + 0.5 * length_m + 0.1 * rng.standard_normal(segments)
    rate = 0.1 + 0.08 * length_m + 0.05 * rng.standard_normal(segments)
    y = level[segment] + rate[segment] * x + 0.07 * rng.standard_normal(len(segment))
    return FitReadings.of(segment, x, y), length_m


@pytest.mark.parametrize("seed", [4, 5])
def test_fit_agrees_with_statsmodels(seed):
    import statsmodels.api as sm

    # in tenths of a dB: statsmodels warns of a boundary when a variance is below 0.01, whatever the unit
    readings, length_m = simulated_pool(seed, segments=120)
    segment, x, y = readings.segment, readings.x, 10 * readings.loss_db
    fit = straight_fit(replace(readings, loss_db=y), length_m, with_length=True)
    one, length = np.ones(len(x)), length_m[segment]
    model = sm.MixedLM(y, np.column_stack([one, length, x, length * x]), segment, np.column_stack([one, x]))
    theirs = model.fit(reml=True, method="bfgs", gtol=1e-5)
    sd_u, sd_v, r = fit.deviations
    assert theirs.converged
    # its log likelihood may only be lower: the optimum here is checked against dense matrices above
    assert fit.minus_two_log / -2 >= theirs.llf - 1e-7
    assert fit.minus_two_log / -2 == pytest.approx(theirs.llf, abs=1e-4)
    assert fit.coefficients == pytest.approx(theirs.fe_params, rel=1e-3)
    assert fit.sigma2 == pytest.approx(theirs.scale, rel=1e-3)
    assert (sd_u**2, sd_v**2) == pytest.approx(tuple(np.diag(theirs.cov_re)), rel=5e-3)
    assert r * sd_u * sd_v == pytest.approx(theirs.cov_re[0, 1], rel=2e-2, abs=1e-3)


def test_ml_differs_from_reml_and_does_not_depend_on_the_unit_of_time():
    readings, length_m = simulated_pool(7)
    years = straight_fit(readings, length_m, with_length=True, restricted=False)
    by_days = replace(readings, x=365.25 * readings.x)
    days = straight_fit(by_days, length_m, with_length=True, restricted=False)
    assert days.minus_two_log == pytest.approx(years.minus_two_log, abs=1e-8)
    reml = straight_fit(readings, length_m, with_length=True)
    assert years.sigma2 != pytest.approx(reml.sigma2, rel=1e-6)


def test_a_large_pool_starts_from_a_sub_pool_and_ends_at_the_optimum_of_all():
    readings, length_m = simulated_pool(8, segments=9000)
    readings = replace(readings, day=(readings.x * 10).astype(int) << 32)
    optimum = fit_pool(readings, length_m, with_length=True)
    value, _ = optimum.deviance(optimum.fit.theta)
    assert optimum.fit.newton_decrement < 1e-6
    others = optimum.fit.theta + 0.003 * np.random.default_rng(1).standard_normal((8, 5))
    assert all(optimum.deviance(theta)[0] > value for theta in others)
    again = fit_pool(readings, length_m, with_length=True, start=optimum.fit.theta).fit
    assert again.minus_two_log == pytest.approx(optimum.fit.minus_two_log, abs=1e-4)


def test_a_sub_pool_of_cables_read_often_leads_to_the_optimum_of_all(monkeypatch):
    pool = draw_pool(9, 90, 14, 18)
    whole = fit_pool(*pool, with_length=True).fit
    monkeypatch.setattr(fit_search, "SUB_POOL_READINGS_OF_FEWER", 300)
    monkeypatch.setattr(fit_search, "LEAST_SUB_POOL_SEGMENTS", 30)
    by_part = fit_pool(*pool, with_length=True).fit
    assert by_part.minus_two_log == pytest.approx(whole.minus_two_log, abs=1e-8)
    # the deviance is flat at its minimum: half its digits
    assert by_part.theta == pytest.approx(whole.theta, abs=1e-6)


def test_a_fit_does_not_stay_at_the_boundary_where_the_one_before_stood():
    readings, length_m = simulated_pool(8, segments=400)
    day = (readings.x * 10).astype(int)
    shift = 0.2 * np.random.default_rng(1).standard_normal(day.max() + 1)
    readings = replace(readings, day=day << 32, loss_db=readings.loss_db + shift[day])
    cold, warm = (fit_pool(readings, length_m, start=start).fit for start in (None, np.array([1.0, 0, 0.5, 0, 0])))
    assert warm.minus_two_log == pytest.approx(cold.minus_two_log, abs=1e-3)
    assert warm.bench_day_sd_db == pytest.approx(cold.bench_day_sd_db, rel=1e-3)
