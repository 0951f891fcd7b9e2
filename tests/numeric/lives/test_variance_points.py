"""Points over the variance parameters of pools that are answered at their optimum."""

from dataclasses import replace

import numpy as np
import pytest
from drawn_pools import draw_pool, fitted_pool

from inspections.numeric import variance_points
from inspections.numeric.lives.limits_by_length import limits_of_kinds
from inspections.numeric.lives.modelled import Kinds
from inspections.numeric.minimise import hessian
from inspections.numeric.mixed_equations import NoFit
from inspections.numeric.pool_fit import fit_pool
from inspections.numeric.pool_model import INSTRUMENT_SD_DB
from inspections.numeric.variance_points import with_variance_points

SEGMENTS, SEED = 300, 7


def pool_of(segments):
    return draw_pool(SEED, segments, 6, 12)


def pointed(segments=SEGMENTS):
    pool = pool_of(segments)
    return with_variance_points(fitted_pool(segments), pool.readings, pool.length_m, instrument_sd_db=INSTRUMENT_SD_DB)


@pytest.fixture(scope="module")
def model():
    return pointed()


def test_parameters_scatter_as_the_curvature_of_the_likelihood_says(model):
    """The inverse of half the Hessian of -2 log REML is their covariance in a large pool (Pinheiro & Bates 2000,
    section 2.4; from memory), here by differences of the gradient at the optimum. Priors and a posterior that is no
    normal one move a standard deviation by up to a fifth."""
    pool = pool_of(SEGMENTS)
    optimum = fit_pool(pool.readings, pool.length_m, with_length=True, start=model.fit.theta)
    covariance = np.linalg.inv(hessian(optimum.deviance, optimum.fit.theta) / 2)
    rho, kappa = optimum.fit.theta[3:]
    asked = np.sqrt(covariance.diagonal()[3:]) / [rho, kappa]
    points = model.points
    logarithms = np.log(points.variances[3:5]) / 2
    mean = logarithms @ points.weight
    found = np.sqrt((logarithms - mean[:, None]) ** 2 @ points.weight)
    assert found == pytest.approx(asked, rel=0.25)
    assert mean == pytest.approx(np.log([rho, kappa]), abs=0.5 * asked.max())


def test_the_limit_stays_and_its_interval_widens(model):
    kinds, plain = Kinds.of([1.1, 2.1, 3.0]), fitted_pool(SEGMENTS)
    assert (plain.integrated, model.integrated) == (False, True)
    narrow, wide = (limits_of_kinds(each.points, kinds, 3.0) for each in (plain, model))
    assert wide.age == pytest.approx(narrow.age, rel=0.01)
    assert (wide.high / wide.low > narrow.high / narrow.low).all()
    assert ((wide.low < wide.age) & (wide.age < wide.high)).all()


def test_readings_and_seed_are_all_that_points_hang_on(model):
    assert (pointed().points.variances == model.points.variances).all()


def test_a_small_pool_and_one_without_a_fit_stay_as_they_are(monkeypatch):
    small = fitted_pool(40)
    assert pointed(40) is small
    none = replace(fitted_pool(SEGMENTS), fit=None, points=None)
    assert with_variance_points(none, None, None, instrument_sd_db=INSTRUMENT_SD_DB) is none


def test_points_that_weigh_too_unequally_are_drawn_as_of_a_small_pool(model, monkeypatch):
    monkeypatch.setattr(variance_points, "LEAST_ALIKE", 1_000)
    other, kinds = pointed(), Kinds.of([1.1, 2.1])
    found, again = (limits_of_kinds(each.points, kinds, 3.0) for each in (model, other))
    assert len(other.points.weight) > len(model.points.weight)
    # the same posterior by other points: ends of an interval to a tenth of its width
    assert again.age == pytest.approx(found.age, rel=0.01)
    assert np.abs(again.low - found.low).max() < 0.15 * (found.high - found.low).max()
    assert np.abs(again.high - found.high).max() < 0.15 * (found.high - found.low).max()


def test_where_the_integration_fails_the_optimum_stands_and_says_so(monkeypatch):
    def fails(*_):
        raise NoFit("tried")

    monkeypatch.setattr(variance_points, "newton_at_once", fails)
    assert pointed() is fitted_pool(SEGMENTS)
    assert not pointed().integrated
