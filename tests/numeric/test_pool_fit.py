"""The pooled fit against closed forms, printed results and two independent computations; sources beside each."""

import numpy as np
import pandas as pd
import pytest
from pool_fits import standard_errors
from published import FOLDER, grouped

from inspections.numeric.crossings import chance_over, crossing_time
from inspections.numeric.mixed_model import Deviance, FixedPart, RelativeCovariance, solve_fixed, weigh
from inspections.numeric.pool_fit import fit_readings
from inspections.numeric.posteriors import SegmentLines, segment_lines
from inspections.numeric.segment_sums import Frame, choose_frame, sum_by_segment


def fit_set(name, x_scale=1.0, shift=0.0):
    segment, x, y, names = grouped(name)
    return fit_readings(segment, x / x_scale + shift, y, np.ones(len(names)))


def posterior(fit, segment, x, y, length_m):
    sums = sum_by_segment(segment, x, y, len(length_m), fit.frame)
    return segment_lines(sums, FixedPart.of(length_m, fit.with_length), fit)


def sleepstudy_lines():
    segment, x, y, names = grouped("sleepstudy")
    fit = fit_set("sleepstudy")
    return fit, posterior(fit, segment, x, y, np.ones(18)), names


# Balanced sets have a closed form, which the "exact" values are; hence seven digits. Bates, Maechler, Bolker & Walker
# 2015, J. Stat. Softw. 67(1), print the same to the digits of their optimiser.
def test_sleepstudy_agrees_with_its_closed_form():
    fit = fit_set("sleepstudy")
    assert fit.coefficients == pytest.approx([251.4051048485, 10.4672859596], rel=1e-7)
    assert standard_errors(fit) == pytest.approx([6.8245565321, 1.5457888963], rel=1e-7)
    assert fit.deviations == pytest.approx((24.7404514644, 5.9221331037, 0.0655513197), rel=1e-7)
    assert (fit.residual_sd, fit.sigma2) == pytest.approx((25.5918156267, 654.9410270723), rel=1e-7)
    assert fit.minus_two_log == pytest.approx(1743.6282719585, rel=1e-10)
    assert not fit.at_boundary


def test_sleepstudy_agrees_with_the_print_of_lme4():
    fit = fit_set("sleepstudy")
    assert fit.coefficients == pytest.approx([251.405, 10.467], abs=5e-4)
    assert standard_errors(fit) == pytest.approx([6.825, 1.546], abs=5e-4)
    assert (*fit.deviations, fit.residual_sd) == pytest.approx((24.74066, 5.922138, 0.066, 25.5918), abs=5e-4)


def test_relative_cholesky_factor_of_sleepstudy():
    # about x = 0, as lme4 has it (0.96674, 0.01517, 0.23091 printed; figures from memory): digits of the closed form
    fit = fit_set("sleepstudy")
    c00, c01, c11 = fit.frame.covariance_from(fit.relative.c00, fit.relative.c01, fit.relative.c11)
    root = np.linalg.cholesky([[c00, c01], [c01, c11]])
    assert (root[0, 0], root[1, 0], root[1, 1]) == pytest.approx((0.9667329520, 0.0151690543, 0.2309095948), rel=1e-7)


def test_all_conditional_modes_of_sleepstudy():
    fit, lines, names = sleepstudy_lines()
    modes = np.column_stack([lines.intercept, lines.rate]) - fit.coefficients
    printed = pd.read_csv(FOLDER / "sleepstudy_modes.csv", dtype={"subject": str})
    assert list(printed.subject) == names
    # lme4's optimiser stops about 1e-5 relative short of the optimum
    assert modes == pytest.approx(printed[["u0", "u1"]].to_numpy(), abs=5e-4)
    exact = [[2.2585655, 9.1989719], [-40.3985802, -8.6197027], [-38.9602490, -5.4488794]]
    assert modes[:3] == pytest.approx(np.array(exact), rel=1e-7, abs=5e-8)


def test_conditional_covariance_of_sleepstudy():
    # lme4's "postVar" leaves out the uncertainty of the fixed part: sigma^2 L M^-1 L'
    segment, x, y, _ = grouped("sleepstudy")
    fit = fit_set("sleepstudy")
    sums = sum_by_segment(segment, x, y, 18, fit.frame)
    lam, det = fit.relative, weigh(sums, fit.relative).det
    own = [(a + lam.det * b) / det for a, b in ((lam.c00, sums.xx), (lam.c01, -sums.x), (lam.c11, sums.n))]
    covariance = np.array(fit.frame.covariance_from(*(fit.sigma2 * part[0] for part in own)))
    assert covariance == pytest.approx([145.7051037, -21.4444266, 5.3122737], rel=1e-7)
    assert covariance == pytest.approx([145.7056, -21.444504, 5.312283], abs=5e-4)  # printed


def unbalanced_sleepstudy():
    segment, x, y, _ = grouped("sleepstudy")
    kept = x <= segment % 10
    return segment[kept], x[kept], y[kept]


def test_unbalanced_sleepstudy_with_single_readings_and_pairs():
    # own deterministic subset of 91 rows; values from two independent optimisers
    segment, x, y = unbalanced_sleepstudy()
    assert len(y) == 91
    fit = fit_readings(segment, x, y, np.ones(18))
    assert fit.coefficients == pytest.approx([253.9917544, 10.8499865], rel=1e-5)
    assert standard_errors(fit) == pytest.approx([7.1285672, 2.8766218], rel=1e-5)
    assert fit.deviations == pytest.approx((27.494855, 9.831255, -0.394423), rel=1e-5)
    assert fit.residual_sd == pytest.approx(16.353965, rel=1e-5)
    assert fit.minus_two_log / -2 == pytest.approx(-413.5257669442, rel=1e-10)
    lines = posterior(fit, segment, x, y, np.ones(18))
    modes = np.column_stack([lines.intercept, lines.rate]) - fit.coefficients
    expected = [[-3.27360, 0.46168], [-36.71853, -1.37667], [-13.21370, 1.86357], [-6.13342, -2.90384]]
    assert modes[[0, 1, 10, 11]] == pytest.approx(np.array(expected), rel=1e-5, abs=5e-6)


def test_orthodont_agrees_with_its_closed_form_and_nlme():
    fit = fit_set("orthodont")
    assert fit.coefficients == pytest.approx([16.7611111111, 0.6601851852], rel=1e-7)
    assert standard_errors(fit) == pytest.approx([0.7752461852, 0.0712532708], rel=1e-7)
    assert fit.deviations == pytest.approx((2.3270359159, 0.2264278845, -0.6093332842), rel=1e-7)
    assert fit.sigma2 == pytest.approx(1.7162037037, rel=1e-7)
    assert fit.minus_two_log / -2 == pytest.approx(-221.3183429421, rel=1e-10)
    # Pinheiro & Bates 2000, as nlme prints it
    printed = (2.3270341, 0.2264278, -0.609, 1.3100397)
    assert (*fit.deviations, fit.residual_sd) == pytest.approx(printed, rel=6e-4)
    assert standard_errors(fit) == pytest.approx([0.7752460, 0.0712533], rel=1e-4)


def test_orthodont_does_not_depend_on_where_time_begins():
    plain, centred = fit_set("orthodont"), fit_set("orthodont", shift=-11)
    assert centred.minus_two_log == pytest.approx(plain.minus_two_log, rel=1e-12)
    assert (centred.sigma2, centred.deviations[1]) == pytest.approx((plain.sigma2, plain.deviations[1]), rel=1e-9)
    assert centred.deviations[0] == pytest.approx(2.1343289, rel=1e-6)
    assert centred.deviations[2] == pytest.approx(0.503, abs=5e-4)
    assert (centred.coefficients[0], standard_errors(centred)[0]) == pytest.approx((24.023148, 0.4296601), rel=1e-6)


LASER_POOLED_HOURS = (
    "3703.3 4189.8 5796.3 6132.2 5331.5 3597.0 6075.5 6516.8 5101.2 3307.4 5314.7 4985.0 4734.4 5720.6 6111.0"
)


def test_lasers_agree_with_their_closed_form():
    # Meeker & Escobar 1998, Table C.17; time in 1000 h
    fit = fit_set("lasers", x_scale=1000)
    assert fit.coefficients == pytest.approx([0.0094937255, 2.0432], rel=1e-7)
    assert standard_errors(fit) == pytest.approx([0.0464245782, 0.1241764518], rel=1e-7)
    assert fit.deviations == pytest.approx((0.1588824246, 0.4795922085, -0.3550044148), rel=1e-7)
    assert fit.residual_sd == pytest.approx(0.1812418898, rel=1e-7)
    assert fit.minus_two_log / -2 == pytest.approx(12.1890084602, rel=1e-10)


def test_median_pooled_crossings_of_the_lasers():
    segment, hours, y, _ = grouped("lasers")
    fit = fit_set("lasers", x_scale=1000)
    lines = posterior(fit, segment, hours / 1000, y, np.ones(15))
    published = np.array(LASER_POOLED_HOURS.split(), float)
    assert 1000 * crossing_time(lines, 10, 0.5) == pytest.approx(published, abs=0.05)


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
    fit = fit_set("lasers", x_scale=1000)
    none = np.array([], int)
    new = posterior(fit, none, np.array([]), np.array([]), np.ones(1))
    quantiles = [1000 * crossing_time(new, 10, p)[0] for p in (0.05, 0.1, 0.5, 0.9)]
    assert quantiles == pytest.approx([3525.2, 3755.3, 4889.6, 7043.8], abs=0.05)
    assert [chance_over(new, t, 10)[0] for t in (4, 5, 6)] == pytest.approx([0.17305, 0.53707, 0.78157], abs=5e-6)


def test_bladder_volume_of_a_new_subject():
    # Brown 1993, Measurement, Regression and Calibration, with the variances at their published estimates (independent
    # at volume 0, which the pooled fit does not assume): fixed part and inverse prediction at 500, recomputed.
    segment, volume, hd, names = grouped("bladder")
    y, sigma = hd**1.5, 53.7150060
    frame, fixed = Frame(0.0, 1.0, 0.0), FixedPart.of(np.ones(len(names)), False)
    lam = RelativeCovariance.from_root(39.6261091 / sigma, 0.0, 14.2883556 / sigma)
    effects = solve_fixed(weigh(sum_by_segment(segment, volume, y, len(names), frame), lam), fixed)
    assert effects.beta == pytest.approx([-53.8316957, 69.0949121], rel=1e-5)
    assert sigma * np.sqrt(np.diag(effects.inverse)) == pytest.approx([11.6033516, 3.1136342], rel=1e-5)
    c = sigma**2 * effects.inverse
    reading = SegmentLines(
        *np.array([*effects.beta, c[0, 0] + 39.6261091**2 + sigma**2, c[0, 1], c[1, 1] + 14.2883556**2])[:, None]
    )
    assert crossing_time(reading, 500, 0.5)[0] == pytest.approx(8.0155207, rel=1e-5)
    bounds = [crossing_time(reading, 500, p)[0] for p in (0.025, 0.975)]
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
    return segment, x, y, length_m


def dense_reml(fit, segment, x, y, length_m):
    """-2 log REML, GLS coefficients, their covariance, each segment's (mean, covariance), by full n x n matrices."""
    sd_u, sd_v, r = fit.deviations
    d = np.array([[sd_u**2, r * sd_u * sd_v], [r * sd_u * sd_v, sd_v**2]])
    one = np.ones(len(x))
    fixed = [one, length_m[segment], x, length_m[segment] * x] if fit.with_length else [one, x]
    design, z = np.column_stack(fixed), np.column_stack([one, x])
    v = (z @ d @ z.T) * (segment[:, None] == segment) + fit.sigma2 * np.eye(len(x))
    v_inverse = np.linalg.inv(v)
    information = design.T @ v_inverse @ design
    beta_cov = np.linalg.inv(information)
    beta = beta_cov @ design.T @ v_inverse @ y
    residual = y - design @ beta
    degrees = len(y) - design.shape[1]
    value = np.linalg.slogdet(v)[1] + np.linalg.slogdet(information)[1] + residual @ v_inverse @ residual
    posteriors = []
    for i, length in enumerate(length_m):
        a = np.array([[1, length, 0, 0], [0, 0, 1, length]]) if fit.with_length else np.eye(2)
        gain = d @ np.where(segment == i, z.T, 0.0) @ v_inverse
        shared = a - gain @ design
        covariance = d - gain @ np.where((segment == i)[:, None], z, 0.0) @ d + shared @ beta_cov @ shared.T
        posteriors.append((a @ beta + gain @ residual, covariance))
    return value + degrees * np.log(2 * np.pi), beta, beta_cov, posteriors


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("with_length", [False, True])
def test_fit_and_lines_agree_with_dense_generalised_least_squares(seed, with_length):
    segment, x, y, length_m = simulated_pool(seed)
    fit = fit_readings(segment, x, y, length_m, with_length=with_length)
    value, beta, beta_cov, posteriors = dense_reml(fit, segment, x, y, length_m)
    assert fit.minus_two_log == pytest.approx(value, abs=1e-8)
    assert fit.coefficients == pytest.approx(beta, rel=1e-8)
    assert standard_errors(fit) == pytest.approx(np.sqrt(np.diag(beta_cov)), rel=1e-8)
    lines = posterior(fit, segment, x, y, length_m)
    for i, (mean, covariance) in enumerate(posteriors):
        assert (lines.intercept[i], lines.rate[i]) == pytest.approx(mean, rel=1e-7)
        ours = [[lines.c00[i], lines.c01[i]], [lines.c01[i], lines.c11[i]]]
        assert np.array(ours) == pytest.approx(covariance, rel=1e-7, abs=1e-12)


@pytest.mark.parametrize("seed", [4, 5])
def test_fit_agrees_with_statsmodels(seed):
    import statsmodels.api as sm

    # in tenths of a dB: statsmodels warns of a boundary when a variance is below 0.01, whatever the unit
    segment, x, y, length_m = simulated_pool(seed, segments=120)
    y = 10 * y
    fit = fit_readings(segment, x, y, length_m, with_length=True)
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


@pytest.mark.parametrize("restricted", [True, False])
@pytest.mark.parametrize("theta", [(1.0, 0.2, 0.5), (3.0, -2.0, 0.0), (0.0, 0.7, 0.4), (0.02, 0.0, 8.0)])
def test_gradient_agrees_with_differences(theta, restricted):
    # fourth-order central differences, boundary included
    segment, x, y, length_m = simulated_pool(6)
    sums = sum_by_segment(segment, x, y, len(length_m), choose_frame(x, y))
    deviance = Deviance(sums, FixedPart.of(length_m, True), restricted=restricted)
    h = 1e-3

    def value(k, step):
        return deviance(np.array(theta) + step * h * np.eye(3)[k])[0]

    slopes = [(8 * (value(k, 1) - value(k, -1)) - (value(k, 2) - value(k, -2))) / (12 * h) for k in range(3)]
    assert deviance(theta)[1] == pytest.approx(slopes, rel=3e-7, abs=1e-6)


def test_ml_differs_from_reml_and_does_not_depend_on_the_unit_of_time():
    segment, x, y, length_m = simulated_pool(7)
    years = fit_readings(segment, x, y, length_m, with_length=True, restricted=False)
    days = fit_readings(segment, 365.25 * x, y, length_m, with_length=True, restricted=False)
    assert days.minus_two_log == pytest.approx(years.minus_two_log, abs=1e-8)
    reml = fit_readings(segment, x, y, length_m, with_length=True)
    assert years.sigma2 != pytest.approx(reml.sigma2, rel=1e-6)


def test_sums_of_a_large_pool_start_from_a_sub_pool_and_end_at_the_same_optimum():
    segment, x, y, length_m = simulated_pool(8, segments=9000)
    fit = fit_readings(segment, x, y, length_m, with_length=True)
    sums = sum_by_segment(segment, x, y, len(length_m), fit.frame)
    value, gradient = Deviance(sums, FixedPart.of(length_m, True))(fit.theta)
    assert np.abs(gradient).max() < 1e-4
    others = fit.theta * (1 + 0.001 * np.random.default_rng(1).standard_normal((20, 3)))
    assert all(Deviance(sums, FixedPart.of(length_m, True))(theta)[0] > value for theta in others)
