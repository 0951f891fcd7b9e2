"""Places, worlds and knowledge of cables of which everything is known."""

import numpy as np

from inspections.numeric.rule_trial.predictions import Knowledge
from inspections.numeric.rule_trial.records import Places
from inspections.numeric.rule_trial.worlds import Worlds
from inspections.numeric.wear_states import SegmentStates

LIMIT_DB, EVENTS = 3.0, 40.0


def make_places(mats=30, positions=4, events=EVENTS, pace=1.0):
    count = mats * positions
    numbers = (np.full(count, value) for value in (1.0, LIMIT_DB, 0.05, events, pace))
    return Places(np.repeat(np.arange(mats), positions), *numbers)


def make_worlds(places, worlds=40, level=1.2, rate=0.4, sd_level=0.0, sd_rate=0.0, q=0.0, damage=0.0, sigma=0.05):
    shape = worlds, len(places)
    parts = (level, rate, sd_level**2, 0.0, sd_rate**2, q)
    fresh, none = SegmentStates(*(np.full(shape, part) for part in parts)), np.zeros((worlds, 1))
    return Worlds(fresh, none, none, none + sigma, none + 0.05, none + damage, True)


def make_knowledge(worlds, unsure_db=1e-3):
    """A keeper who knows the mean lines to so much, and how much cables differ."""
    fresh = SegmentStates(*(part[0] for part in worlds.fresh))
    powers = np.array([0])
    mean_lines, pace = np.diag([unsure_db**2, unsure_db**2]), np.ones(worlds.shape[1])
    sigma2, day2 = worlds.sigma_db[0, 0] ** 2, worlds.day_sd_db[0, 0] ** 2
    return Knowledge(fresh, mean_lines, powers, pace, 0.0, sigma2, day2, True)
