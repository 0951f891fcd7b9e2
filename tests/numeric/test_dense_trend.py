"""The yardstick of these tests, one dense matrix, against lme4, statsmodels and scipy: tests/data/crossed/README.md."""

import numpy as np
import pytest
from crossed_sets import CROSSED, crossed
from dense_trend import DenseTrend, Parameters


@pytest.mark.parametrize("name", CROSSED)
def test_dense_values_at_the_optimum_of_lme4(name):
    found, seg, day, x, y, length_m = CROSSED[name], *crossed(name)
    parameters = Parameters.of(*found["deviations"], found["sigma"], found["tau"], settling=False)
    dense = DenseTrend(seg, x, y, length_m, parameters, day, fixed_terms=len(found["fixef"]))
    # eleven digits of the standard deviations were printed, nine of sigma
    assert dense.minus_two_log() == pytest.approx(found["REMLcrit"], abs=1e-8)
    assert dense.beta == pytest.approx(found["fixef"], abs=1e-7)
    assert np.sqrt(np.diag(dense.beta_covariance)) == pytest.approx(found["se"], abs=1e-7)
    assert dense.days(list(found["days"])).mean == pytest.approx(list(found["days"].values()), abs=1e-7)


def test_dense_value_with_days_and_wander_is_that_of_scipy():
    # scipy.stats.multivariate_normal on error contrasts, theta (1, -.3, 1.2, rho .8, kappa 1.5), sigma^2 .005
    seg, day, x, y, length_m = crossed("a")
    root = np.array([[1.0, 0.0], [-0.3, 1.2]])
    parameters = Parameters(0.005 * root @ root.T, 0.005, tau2=0.005 * 1.5**2, q=0.005 * 0.8**2)
    value = DenseTrend(seg, x, y, length_m, parameters, day).minus_two_log()
    assert value == pytest.approx(-187.7425447884, abs=1e-9)


def test_dense_wander_and_forecast_are_those_of_statsmodels():
    # UnobservedComponents("lldtrend"), one segment about a known mean line 1.2 + .30 t
    t = np.array([0, 0.5, 1.5, 2, 3.5, 4])
    y = np.array([1.31, 1.22, 1.85, 1.79, 2.40, 2.95]) - 1.2 - 0.30 * t
    parameters = Parameters(np.array([[0.09, -0.004], [-0.004, 0.0081]]), 0.0049, q=0.0087)
    dense = DenseTrend(np.zeros(6, int), t, y, np.ones(1), parameters, fixed_terms=0)
    assert dense.minus_two_log() / -2 == pytest.approx(-4.8689264504, abs=1e-9)
    for at, x, cxx, cxb in (
        (0, 1.220162569, 0.003153007, -0.000692899),
        (2, 1.882350020, 0.002541498, 0.000023326),
        (4, 2.816964996, 0.003295563, 0.000692835),
        (6, 3.572243386, 0.031406648, 0.004662707),
        (10, 5.082800166, 0.135267276, 0.012602450),
    ):
        mean, covariance = dense.ask(dense.loss(0, at), dense.rate(0))
        assert (mean[0] + 1.2 + 0.30 * at, mean[1] + 0.30) == pytest.approx((x, 0.377639195), abs=1e-9)
        assert covariance == pytest.approx(np.array([[cxx, cxb], [cxb, 0.001984936]]), abs=1e-9)
