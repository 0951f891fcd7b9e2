"""The likelihood with bench days, wander and settling against one dense matrix, its gradient against differences."""

import numpy as np
import pytest
from crossed_sets import crossed
from dense_trend import SETTLING_PRIOR_IN_SIGMA, DenseTrend, Parameters
from drawn_pools import draw_pool, small_pools
from hypothesis import assume, given, settings
from hypothesis import strategies as some
from sizes import examples

from inspections.numeric.block_algebra import invert, multiply, reverse_sums
from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.likelihood import Deviance
from inspections.numeric.mixed_equations import NoFit
from inspections.numeric.reading_blocks import lay_out, shared_days
from inspections.numeric.wear_model import FixedColumns

THETA = some.lists(some.floats(-3, 3), min_size=5, max_size=5).map(np.array)


def deviance_of(readings, length_m, *, with_length=True, settling=True, sigma2=None, restricted=True, scale=1.0):
    keys, _ = shared_days(readings.day)
    blocks = tuple(lay_out(readings, length_m, keys, scale))
    return Deviance(blocks, FixedColumns(with_length, settling), len(keys), sigma2, restricted)


def parameters_at(theta, sigma2, settling):
    """Of theta = (l11, l21, l22, rho, kappa) in units of sigma."""
    root = np.array([[theta[0], 0.0], [theta[1], theta[2]]])
    settling_sd = SETTLING_PRIOR_IN_SIGMA * np.sqrt(sigma2) * settling
    return Parameters(sigma2 * root @ root.T, sigma2, sigma2 * theta[4] ** 2, sigma2 * theta[3] ** 2, settling_sd)


def enough(pool, terms=4):
    """More readings than fixed terms, on lines that can be told apart."""
    dense = DenseTrend(*pool.dense_parts(), parameters_at(np.ones(5), 1.0, True), fixed_terms=terms)
    return len(pool.readings.x) > terms + 2 and np.linalg.cond(dense.design) < 1e3


@settings(max_examples=examples(15))
@given(small_pools(), THETA, some.booleans(), some.booleans(), some.sampled_from([None, 0.004]))
def test_value_is_that_of_the_dense_matrix(pool, theta, settling, restricted, sigma2):
    assume(enough(pool))
    deviance = deviance_of(*pool, settling=settling, restricted=restricted, sigma2=sigma2)
    value, _ = deviance(theta)
    parameters = parameters_at(theta, deviance.at(theta).sigma2, settling)
    dense = DenseTrend(*pool.dense_parts(), parameters, pool.readings.day)
    # eleven of the digits that are left where 30 x 30 matrices have condition numbers of up to a thousand
    assert value == pytest.approx(dense.minus_two_log(restricted=restricted), rel=1e-9, abs=1e-7)


@settings(max_examples=examples(15))
@given(small_pools(), THETA, some.booleans(), some.booleans(), some.sampled_from([None, 0.004]))
def test_gradient_is_that_of_differences(pool, theta, settling, restricted, sigma2):
    # fourth-order central differences, on both sides of each boundary: the deviance is even in l22, rho and kappa
    assume(enough(pool))
    assume(np.abs(theta[3:]).min() > 0.01)
    deviance, h = deviance_of(*pool, settling=settling, restricted=restricted, sigma2=sigma2), 1e-3

    def value(k, step):
        return deviance(theta + step * h * np.eye(5)[k])[0]

    slopes = [(8 * (value(k, 1) - value(k, -1)) - (value(k, 2) - value(k, -2))) / (12 * h) for k in range(5)]
    assert deviance(theta)[1] == pytest.approx(slopes, rel=1e-5, abs=1e-5)


@pytest.mark.parametrize("theta", [(1.0, 0.2, 0.5, 0.0, 0.0), (3.0, -2.0, 0.0, 0.4, 0.0), (0.0, 0.7, 0.4, 0.0, 1.0)])
def test_gradient_at_the_boundary_is_that_of_differences(theta):
    pool, h, theta = draw_pool(6, 30, 6, 8), 1e-3, np.array(theta)
    deviance = deviance_of(*pool)
    slopes = [(deviance(theta + h * unit)[0] - deviance(theta - h * unit)[0]) / (2 * h) for unit in np.eye(5)]
    # second order: the third derivative is worth a few of h^2
    assert deviance(theta)[1] == pytest.approx(slopes, rel=1e-4, abs=1e-3)


def test_deviance_is_even_where_the_boundary_needs_no_fence():
    pool, theta = draw_pool(7, 12, 6, 6), np.array([1.2, -0.4, 0.7, 0.5, 0.9])
    deviance = deviance_of(*pool)
    value, gradient = deviance(theta)
    for k in (2, 3, 4):
        mirror = np.where(np.arange(5) == k, -1.0, 1.0)
        mirrored_value, mirrored_gradient = deviance(theta * mirror)
        assert mirrored_value == pytest.approx(value, rel=1e-12)
        assert mirrored_gradient == pytest.approx(gradient * mirror, rel=1e-8, abs=1e-9)


def test_value_with_days_and_wander_is_that_of_scipy():
    # tests/data/crossed/README.md section 3: scipy's multivariate_normal on error contrasts of crossed_a
    segment, day, x, y, length_m = crossed("a")
    deviance = deviance_of(FitReadings.of(segment, x, y, day=day), length_m, settling=False, sigma2=0.005)
    assert deviance(np.array([1, -0.3, 1.2, 0.8, 1.5]))[0] == pytest.approx(-187.7425447884, abs=1e-8)


def test_another_unit_of_time_moves_reml_by_its_logarithm_and_ml_not_at_all():
    # statistics.md section 7, trap 2: each of the rate's columns is divided by the unit
    pool, theta = draw_pool(8, 14, 6, 6), np.array([1.2, -0.4, 0.7, 0.5, 0.9])
    in_units = theta * [1, 1, 1, 1, 1]
    in_units[1:3] *= 100.0
    in_units[3] *= 10.0
    for restricted, moved in ((True, 4 * np.log(100.0)), (False, 0.0)):
        plain = deviance_of(*pool, restricted=restricted)(theta)[0]
        scaled = deviance_of(*pool, restricted=restricted, scale=100.0)(in_units)[0]
        assert scaled + moved == pytest.approx(plain, abs=1e-8)


def test_times_and_lengths_that_cannot_be_told_apart_are_no_fit():
    readings = FitReadings.of(np.arange(6), np.ones(6), np.linspace(1, 2, 6))
    with pytest.raises(NoFit):
        deviance_of(readings, np.ones(6))(np.array([1, 0, 0.5, 0.3, 0.5]))


@given(some.integers(1, 14), some.integers(0, 2**32 - 1))
def test_small_matrices_are_inverted_all_at_once(size, seed):
    rng = np.random.default_rng(seed)
    roots = rng.normal(size=(3, size, size + 2, 4))
    matrices = np.einsum("gaks,gbks->gabs", roots, roots) + 0.1 * np.eye(size)[None, :, :, None]
    inverse, log_det = invert(matrices)
    one_by_one = np.moveaxis(matrices, -1, 1)
    assert np.moveaxis(inverse, -1, 1) == pytest.approx(np.linalg.inv(one_by_one), rel=1e-8, abs=1e-8)
    assert log_det == pytest.approx(np.linalg.slogdet(one_by_one)[1], rel=1e-9, abs=1e-9)
    square = multiply(matrices, matrices)
    assert np.moveaxis(square, -1, 1) == pytest.approx(one_by_one @ one_by_one, rel=1e-12)


@pytest.mark.parametrize("size", [4, 14])
def test_a_matrix_that_is_not_positive_has_no_determinant_and_spoils_no_other(size):
    matrices = np.stack([np.eye(size), -np.eye(size), 2 * np.eye(size)], axis=-1)
    with np.errstate(invalid="ignore"):
        inverse, log_det = invert(matrices)
    assert np.isnan(log_det).tolist() == [False, True, False]
    assert inverse[..., [0, 2]] == pytest.approx(np.stack([np.eye(size), np.eye(size) / 2], axis=-1))


@pytest.mark.parametrize(("ratio", "tolerance"), [(10, 1e-7), (80, 1e-4)])
@pytest.mark.parametrize("readings", [5, 16])
def test_lines_that_spread_far_beyond_sigma_keep_their_digits(readings, ratio, tolerance):
    # variance of a line at its last reading, lambda = ratio^2 I: c - c V^-1 c', by 5 x 5 and by 2 x 2 matrices
    # (Woodbury). Of sixteen digits the difference leaves those beyond ratio^4; the sweep operator left none at 80.
    rng = np.random.default_rng(3)
    t = np.sort(rng.uniform(0, 4, (readings, 50)), axis=0)
    with_readings = ratio**2 * (1 + t * t[-1])
    v = ratio**2 * (1 + t[:, None] * t[None, :]) + np.eye(readings)[:, :, None]
    left = ratio**2 * (1 + t[-1] ** 2) - np.einsum("js,jks,ks->s", with_readings, invert(v)[0], with_readings)
    z, last = np.stack([np.ones_like(t), t]), np.stack([np.ones(50), t[-1]])
    inner = np.linalg.inv(np.einsum("ajs,bjs->sab", z, z) + np.eye(2) / ratio**2)
    assert left == pytest.approx(np.einsum("as,sab,bs->s", last, inner, last), rel=tolerance)


def test_sums_of_all_later_columns():
    matrices = np.arange(9.0).reshape(3, 3, 1)
    assert reverse_sums(matrices)[..., 0].tolist() == [[3, 3, 2], [12, 9, 5], [21, 15, 8]]
