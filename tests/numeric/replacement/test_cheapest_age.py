"""The cheapest age, against published and derived values; where nothing is said, derived by quadrature and roots."""

import numpy as np
import pytest
from life_data import drawn_pool
from scipy import stats
from scipy.integrate import quad
from scipy.optimize import brentq

from inspections.numeric.lives.weibull import fit_weibull
from inspections.numeric.replacement.cheapest_age import Costs, changes_at, cheapest_age, cost_at
from inspections.numeric.replacement.life_curves import LifeCurves, curve_ages

FINE = 4000


def curves(life, horizon, checks=np.inf, points=FINE):
    """Of a distribution with `sf`, found at once where it is over, or by checks at random."""
    ages = curve_ages(horizon, points)
    return LifeCurves.of(ages, life.sf(ages)[:, None], checks)


def weibull(shape, scale):
    return stats.weibull_min(shape, scale=scale)


def test_worked_example_of_a_public_package():
    """Documentation of the Python package `reliability`, optimal replacement time: planned 1, found 5, scale 1000,
    shape 2.5. It prints 493.19 and 0.0035, the best point of its grid; the root of the condition is 493.0470."""
    lives, costs = curves(weibull(2.5, 1000), 5000), Costs(1.0, 5.0)
    found = cheapest_age(lives, costs)
    assert found.age == pytest.approx(493.0470, abs=1e-3)
    assert found.cost == pytest.approx(0.003462043, abs=1e-8)
    assert (found.low[0], found.high[0]) == pytest.approx((374.7, 649.4), abs=0.1)
    assert cost_at(lives, costs, np.inf) == pytest.approx(0.005635302, abs=1e-8)
    changes, of_found = changes_at(lives, found.age)
    assert (1 / changes[0], of_found[0]) == pytest.approx((470.1517, 0.156921), abs=1e-3)


def test_life_that_is_uniform():
    """Jardine & Tsang, Maintenance, Replacement and Reliability, chapter 2, problem 2: .0143 .01 .0093 .01, answer
    30,000 of the four ages tried; exactly 40,000 (√3 − 1)."""
    lives, costs = curves(stats.uniform(0, 40_000), 40_000), Costs(100.0, 200.0)
    tried = [float(cost_at(lives, costs, age)[0]) for age in (10_000, 20_000, 30_000, 40_000)]
    assert tried == pytest.approx([1 / 70, 0.01, 0.28 / 30, 0.01], abs=1e-8)
    found = cheapest_age(lives, costs)
    assert found.age == pytest.approx(40_000 * (3**0.5 - 1), rel=1e-6)
    assert found.cost == pytest.approx(0.009330127, abs=1e-8)


def test_life_that_is_normal():
    """The same book: 5 ± 1 weeks, planned 5, found 10 (the ages are derived)."""
    lives, costs = curves(stats.norm(5, 1), 12), Costs(5.0, 10.0)
    tried = [float(cost_at(lives, costs, age)[0]) for age in range(1, 7)]
    assert tried == pytest.approx([5.0002, 2.5039, 1.7094, 1.4791, 1.6301, 1.8725], abs=1e-4)
    found = cheapest_age(lives, costs)
    assert (found.age[0], found.cost[0]) == pytest.approx((4.02197, 1.479031), abs=1e-4)


@pytest.mark.parametrize(
    ("shape", "found"), [(1.0, 5.0), (0.7, 5.0), (0.7, 50.0), (2.5, 1.0), (3.0, 0.5)], ids=lambda number: f"{number:g}"
)
def test_what_does_not_wear_or_costs_no_more_when_found_is_not_changed_by_age(shape, found):
    """Derived: where the hazard does not rise, or a change of what is over costs no more than a planned one."""
    lives, costs = curves(weibull(shape, 1000), 60_000), Costs(1.0, found)
    answer = cheapest_age(lives, costs)
    assert (answer.age[0], answer.high[0]) == (np.inf, np.inf)
    assert answer.cost == pytest.approx(found / weibull(shape, 1000).mean(), rel=1e-3)


def test_cost_of_what_does_not_wear_falls_with_age():
    """Derived: exponential, mean 1000, planned 1, found 5."""
    lives = curves(stats.expon(scale=1000), 20_000)
    tried = [float(cost_at(lives, Costs(1.0, 5.0), age)[0]) for age in (100, 500, 1000, 5000)]
    assert tried == pytest.approx([0.0145083, 0.0065415, 0.0055820, 0.0050068], abs=1e-7)


RATIOS = (2, 3, 5, 10, 20)
BY_SHAPE = {
    1.5: (2.1746, 1.1571, 0.6755, 0.3781, 0.2261),
    2.0: (1.0908, 0.7379, 0.5107, 0.3365, 0.2304),
    2.5: (0.8836, 0.6569, 0.4930, 0.3546, 0.2624),
    3.0: (0.8103, 0.6365, 0.5026, 0.3825, 0.2978),
    4.0: (0.7661, 0.6416, 0.5384, 0.4391, 0.3641),
}


@pytest.mark.parametrize("shape", BY_SHAPE)
def test_table_of_shapes_and_ratios(shape):
    """Derived; beside it what the best age saves at ratio 5, of the cost of never changing by age."""
    ages = curve_ages(30.0, FINE)
    lives = LifeCurves.of(ages, np.repeat(weibull(shape, 1).sf(ages)[:, None], len(RATIOS), axis=1))
    found = cheapest_age(lives, Costs(1.0, np.array(RATIOS, float)))
    assert found.age.tolist() == pytest.approx(BY_SHAPE[shape], abs=1e-4)
    saved = {1.5: 0.8903, 2.0: 0.7241, 2.5: 0.6143, 3.0: 0.5414, 4.0: 0.4527}[shape]
    assert found.cost[2] / (5 / weibull(shape, 1).mean()) == pytest.approx(saved, abs=1e-4)


def test_cost_of_being_over_beside_the_change():
    """Gutierrez-Miravete, slides of ICRA 6: shape 3, scale 10, found = planned (1 + r); the ages are derived."""
    ages, extra = curve_ages(100.0, FINE), np.array([1.0, 2, 5, 10, 20])
    lives = LifeCurves.of(ages, np.repeat(weibull(3, 10).sf(ages)[:, None], len(extra), axis=1))
    found = cheapest_age(lives, Costs(1.0, 1.0 + extra))
    assert found.age.tolist() == pytest.approx([8.1034, 6.3655, 4.6610, 3.6917, 2.9271], abs=1e-4)


def test_with_nobody_looking_a_thing_costs_until_its_age():
    """Derived by quadrature: nothing is found, G = 1, and over·[M(T) − T·S(T)] = planned at the root."""
    life, planned, over = weibull(2.5, 3.0), 40.0, 300.0

    def lived(age):
        return quad(life.sf, 0, age)[0]

    root = brentq(lambda age: over * (lived(age) - age * life.sf(age)) - planned, 0.1, 5)
    found = cheapest_age(curves(life, 20, checks=0.0), Costs(planned, 55.0, over))
    assert found.age == pytest.approx(root, rel=1e-5)
    assert found.cost == pytest.approx((planned + over * (root - lived(root))) / root, rel=1e-6)


def test_the_less_often_somebody_looks_the_earlier_is_cheapest_and_the_dearer():
    """Against lives and checks drawn at random: cost of a cycle over its length, both means."""
    life, costs = weibull(3, 4.0), Costs(40.0, 55.0, 200.0)
    answers = [cheapest_age(curves(life, 40, checks), costs) for checks in (np.inf, 4.0, 1.0, 0.25, 0.0)]
    ages, least = ([float(getattr(each, name)[0]) for each in answers] for name in ("age", "cost"))
    assert ages[1:] == sorted(ages[1:], reverse=True)
    assert least == sorted(least)
    rng = np.random.default_rng(5)
    over_at = life.rvs(400_000, random_state=rng)
    found_at = over_at + rng.exponential(1.0, len(over_at))
    for age in (2.0, 4.0, 8.0):
        changed_at = np.minimum(found_at, age)
        spent = np.where(found_at < age, 55.0, 40.0) + 200.0 * np.maximum(changed_at - over_at, 0)
        drawn = spent.mean() / changed_at.mean()
        assert cost_at(curves(life, 40, 1.0), costs, age) == pytest.approx(drawn, rel=0.006)


def test_what_is_over_from_new_is_in_use_until_somebody_looks():
    """Derived: a fifth is over at age 0 and the others never; found at the rate r, 0.8 + 0.2·exp(−rt) is in use."""
    ages = curve_ages(10.0, FINE)
    lives = LifeCurves.of(ages, np.full((FINE, 2), 0.8), np.array([2.0, 0.0]))
    age = np.array([1.5, 1.5])
    assert lives.in_use.at(age).tolist() == pytest.approx([0.8 + 0.2 * np.exp(-3.0), 1.0], abs=1e-6)
    found, over = Costs(1.0, 1.0, 100.0), 0.2 * (1 - np.exp(-3.0)) / 2
    assert cost_at(lives, found, 1.5).tolist() == pytest.approx(
        [(1 + 100 * over) / (1.2 + over), 1 / 1.5 + 20], rel=1e-5
    )


def test_few_points_of_a_life_are_enough():
    for shape, scale in ((2.0, 2.0), (3.5, 4.0), (6.0, 12.0)):
        costs = Costs(40.0, 60.0, 150.0)
        fine, rough = (cheapest_age(curves(weibull(shape, scale), 40, 0.6, n), costs) for n in (FINE, 160))
        assert rough.age == pytest.approx(fine.age, rel=3e-3)
        assert rough.cost == pytest.approx(fine.cost, rel=1e-3)
        assert (rough.low[0], rough.high[0]) == pytest.approx((fine.low[0], fine.high[0]), rel=5e-3)


def test_the_long_run_of_a_rule_of_age():
    """400 at 36 months, shape 2.5, scale 60 months: derived by quadrature, a mean life of 33.350542 months, 11.9938
    changed a month, 2.9187 of them over."""
    changes, of_found = changes_at(curves(weibull(2.5, 60), 600), 36.0)
    assert 1 / changes[0] == pytest.approx(33.350542, abs=1e-5)
    assert (400 * changes[0], 400 * changes[0] * of_found[0]) == pytest.approx((11.9938, 2.9187), abs=1e-4)


def test_the_long_run_by_a_life_that_was_fitted():
    """The same rule where the life is known from checks of 2,400 cables that were drawn by it. Tolerances: of seven
    pools so drawn each had the share over at 36 months within 6 % of the truth."""
    life = fit_weibull(drawn_pool(5, mats=400, scale=5.0, alike=0.0))
    changes, of_found = changes_at(curves(weibull(life.shape, life.scale), 50), 3.0)
    assert 400 / 12 * changes[0] == pytest.approx(11.9938, rel=0.01)
    assert 400 / 12 * changes[0] * of_found[0] == pytest.approx(2.9187, rel=0.10)
