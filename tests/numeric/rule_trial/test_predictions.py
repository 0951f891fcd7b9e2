"""What the simulated keeper knows, against the normal distribution of everything that was read, conditioned at once."""

import numpy as np
import pytest
from plays_made import make_knowledge, make_places, make_worlds
from scipy.special import ndtr

from inspections.numeric.rule_trial.predictions import Predictions

SPREAD = {"sd_level": 0.2, "sd_rate": 0.1, "q": 0.02, "sigma": 0.07}
UNSURE_DB = 0.15
CHECKS = np.array([0.5, 1.5, 2.5])


def dense(first, readings, day):
    """(mean, covariance) of (loss, rate) of each cable on `day`: all terms and readings as one normal distribution.

    `first`: day on which each was fitted; `readings`: rows (cable, day, bench day or -1, loss).
    """
    cables, n = len(first), len(readings)
    shifts = int(readings[:, 2].max()) + 1
    # mean level, mean rate, shifts, then level and rate of each cable
    prior = np.diag([UNSURE_DB**2] * 2 + [0.05**2] * shifts + [0.2**2, 0.1**2] * cables)

    def row(cable, t, shift=-1):
        terms = np.zeros(len(prior))
        terms[[0, 1]] = 1, t - first[cable]
        terms[2 + shifts + 2 * cable : 4 + shifts + 2 * cable] = 1, t - first[cable]
        if shift >= 0:
            terms[2 + shift] = 1
        return terms

    def wander(cable, t, other, u):
        return 0.02 * min(t - first[cable], u - first[other]) if cable == other else 0.0

    read = [(int(c), t, int(d)) for c, t, d, _ in readings]
    design = np.array([row(*each) for each in read])
    alone = np.array([0.05**2 if d < 0 else 0.0 for _, _, d in read])
    between = np.array([[wander(c, t, o, u) for o, u, _ in read] for c, t, _ in read])
    variance = design @ prior @ design.T + between + np.diag(0.07**2 + alone)
    left = readings[:, 3] - 1.2 - 0.4 * np.array([t - first[c] for c, t, _ in read])
    answers = []
    for cable in range(cables):
        rate = np.zeros(len(prior))
        rate[[1, 3 + shifts + 2 * cable]] = 1
        target = np.array([row(cable, day), rate])
        with_read = target @ prior @ design.T
        with_read[0] += [wander(cable, day, o, u) for o, u, _ in read]
        own = target @ prior @ target.T
        own[0, 0] += 0.02 * (day - first[cable])
        gain = np.linalg.solve(variance, with_read.T).T
        mean = np.array([1.2 + 0.4 * (day - first[cable]), 0.4]) + gain @ left
        answers.append((mean, own - gain @ with_read.T))
    assert n == len(left)
    return answers


def test_readings_of_shared_bench_days_tell_what_they_tell_all_at_once():
    rng = np.random.default_rng(5)
    places = make_places(mats=2, positions=3)
    bench, first = np.repeat([0, 1], 3), rng.uniform(-1, 0, 6)
    worlds = make_worlds(places, worlds=2, **SPREAD)
    known = Predictions(make_knowledge(worlds, UNSURE_DB), places, bench, 2, len(CHECKS))
    rows, both = np.arange(12), np.tile(first, 2)
    new = 1.2 + 0.2 * rng.standard_normal(12)
    known.fit_fresh(rows, both)
    known.read_alone(rows, both, new)
    read = [(c, first[c], -1, new[c]) for c in range(6)]
    for number, day in enumerate(CHECKS):
        loss_db = 1.3 + 0.5 * day + 0.3 * rng.standard_normal(12)
        known.check(day, loss_db)
        read += [(c, day, 2 * number + bench[c], loss_db[c]) for c in range(6)]
    found, day = known.states(rows), CHECKS[-1]
    for cable, (mean, covariance) in enumerate(dense(first, np.array(read), day)):
        assert (found.level[cable], found.rate[cable]) == pytest.approx(mean, abs=1e-9)
        parts = [getattr(found, name)[cable] for name in ("c00", "c01", "c11")]
        assert parts == pytest.approx([covariance[0, 0], covariance[0, 1], covariance[1, 1]], abs=1e-9)
    # the other world was read otherwise
    assert np.abs(found.level[:6] - found.level[6:]).max() > 0.05


def test_a_fresh_cable_is_due_when_the_fit_says_so():
    places = make_places(mats=1, positions=1)
    worlds = make_worlds(places, worlds=1, **SPREAD)
    known = Predictions(make_knowledge(worlds, UNSURE_DB), places, np.array([0]), 1, 1)
    known.fit_fresh(np.array([0]), 0.0)
    due = known.due_before(np.array([0]), 4.0)[0]
    ages = np.linspace(0, 4, 40_001)
    sd = np.sqrt(0.2**2 + UNSURE_DB**2 + (0.1**2 + UNSURE_DB**2) * ages**2 + 0.02 * ages)
    chance = 1 - np.vectorize(normal)((3 - 1.2 - 0.4 * ages) / sd)
    rising = normal(0.4 / np.hypot(0.1, UNSURE_DB))
    # of rates that fall next to none is over by then
    assert due == pytest.approx(ages[np.argmax(chance / rising >= 0.05)], abs=0.01)
    assert known.due_before(np.array([0]), 0.5)[0] == np.inf


def normal(z):
    from math import erf, sqrt

    return (1 + erf(z / sqrt(2))) / 2


def test_of_the_mean_lines_can_be_forgotten_what_readings_told():
    places = make_places(mats=1, positions=4)
    worlds = make_worlds(places, worlds=1, **SPREAD)
    known = Predictions(make_knowledge(worlds, UNSURE_DB), places, np.zeros(4, int), 1, 2)
    known.fit_fresh(np.arange(4), 0.0)
    known.check(1.0, np.array([2.0, 2.1, 2.2, 1.9]))
    assert abs(known.shared.mean[0, 0, 0]) > 0.05
    known.shared.forget_lines()
    assert known.shared.mean[0, 0, :2] == pytest.approx(0, abs=1e-12)
    assert known.shared.covariance[0, 0, :2, :2] == pytest.approx(np.diag([UNSURE_DB**2] * 2), abs=1e-12)


def test_a_reading_tells_of_a_cable_what_was_known_of_it_before_and_the_reading_together():
    """Checks on reliability, A10: JCGM 106:2012 clause 7.2, normal before and normal reading (formula from memory,
    numbers derived): 1.8 ± 0.4 dB before, read as 2.95 ± 0.1 dB, limit 3 dB."""
    places = make_places(mats=1, positions=1)
    worlds = make_worlds(places, worlds=1, level=1.8, rate=0.0, sd_level=0.4, sigma=(0.1**2 - 0.05**2) ** 0.5)
    known, row = Predictions(make_knowledge(worlds, 1e-9), places, np.array([0]), 1, 1), np.array([0])
    known.fit_fresh(row, np.zeros(1))
    known.read_alone(row, np.zeros(1), np.array([2.95]))
    state = known.states(row)
    assert (state.level[0], state.c00[0] ** 0.5) == pytest.approx((2.882353, 0.0970143), abs=1e-6)
    assert ndtr((3 - state.level[0]) / state.c00[0] ** 0.5) == pytest.approx(0.887374, abs=1e-5)
