"""Verdicts against the rules of conformity assessment."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.stats import norm

from inspections.numeric.verdicts import SURE, conformance_probability, guard_band_db, verdict


def test_conformance_of_the_diode_of_jcgm_106():
    # JCGM 106:2012 clause 7.3, Zener diode, upper limit -5.40 V, measured -5.47 V, u 0.05 V: Φ(1.4) = 0.91924, printed
    # as 92 %. Figure from memory, recomputed.
    assert conformance_probability(-5.47, 0.05, -5.40) == pytest.approx(0.91924, abs=5e-6)


@pytest.mark.parametrize(
    ("probability", "distance"),
    # JCGM 106:2012 Table 1, one-sided: distance from the limit in standard uncertainties. From memory, recomputed.
    [(0.80, 0.8416), (0.90, 1.2816), (0.95, 1.6449), (0.99, 2.3263), (0.999, 3.0902)],
)
def test_distance_from_the_limit_gives_the_tabled_probability(probability, distance):
    # four digits of the distance are worth 5e-5 times the density there, at most 1.4e-5
    assert conformance_probability(3.0 - distance * 0.1, 0.1, 3.0) == pytest.approx(probability, abs=2e-5)


@pytest.mark.parametrize(
    ("guard_in_u", "risk"),
    # ILAC-G8:09/2019 clause 4.2, guard band w = r·U with U = 2u, a reading on the edge of acceptance. Published as
    # < 50 % and < 2.5 % for r = 0 and 1; the others (< 5 %, < 0.16 %, < 1 ppm) from memory; all recomputed.
    [(0.0, 0.5), (2 * 0.83, 0.048457), (2.0, 0.022750), (3.0, 0.0013499), (6.0, 9.87e-10)],
)
def test_risk_on_the_edge_of_a_guard_band(guard_in_u, risk):
    assert 1 - conformance_probability(3.0 - guard_in_u * 0.1, 0.1, 3.0) == pytest.approx(risk, rel=1e-3, abs=1e-12)


def test_our_guard_band_is_the_usual_one_of_95_per_cent():
    # ISO 14253-1:2017, default 95 %: g = 1.6449 u = 0.8224 U (95 % read in secondary pages;
    # factor from memory, recomputed)
    edge = 3.0 - guard_band_db(0.1)
    assert norm.ppf(SURE) * 0.1 == pytest.approx(guard_band_db(0.1))
    assert (3.0 - edge) / 0.1 == pytest.approx(1.6449, abs=1e-4)
    assert (3.0 - edge) / 0.2 == pytest.approx(0.8224, abs=1e-4)
    assert verdict([edge - 1e-9, edge + 1e-9, 6 - edge - 1e-9, 6 - edge + 1e-9], 0.1, 3.0).tolist() == [
        "within",
        "undecided",
        "undecided",
        "over",
    ]


def test_three_verdicts_at_the_limit_of_3_db():
    # derived: limit 3 dB, u 0.1 dB; Φ(2), Φ(1), Φ(0), Φ(-0.5), Φ(-2)
    losses_db = np.array([2.8, 2.9, 3.0, 3.05, 3.2])
    chances = conformance_probability(losses_db, 0.1, 3.0)
    assert chances == pytest.approx([0.97725, 0.84134, 0.5, 0.30854, 0.02275], abs=5e-6)
    assert verdict(losses_db, 0.1, 3.0).tolist() == ["within", "undecided", "undecided", "undecided", "over"]


def test_no_reference_loss_no_verdict():
    assert verdict([float("nan"), 1.31], 0.15, 3.0).tolist() == ["", "within"]


@given(loss_db=st.floats(0, 20), u=st.floats(0.001, 5), limit_db=st.floats(0.1, 20))
def test_a_higher_loss_never_has_a_better_verdict(loss_db, u, limit_db):
    rank = {"within": 0, "undecided": 1, "over": 2}
    lower, higher = verdict([loss_db, loss_db + 0.1], u, limit_db)
    assert rank[lower] <= rank[higher]


@given(distance=st.floats(0, 5), u=st.floats(0.01, 1))
def test_within_and_over_mirror_each_other_about_the_limit(distance, u):
    assume(abs(distance - norm.ppf(SURE)) > 1e-6)
    below, above = verdict([3 - distance * u, 3 + distance * u], u, 3.0)
    assert {"within": "over", "undecided": "undecided"}[below] == above
