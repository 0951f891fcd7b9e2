"""Invented pools whose true wear is known: a line for each cable, and what connectors, cleaning and wet events add."""

import sys
from dataclasses import dataclass
from pathlib import Path
from zlib import crc32

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

LIMIT_DB = 3.0
# a connector is cleaned after so many years
CLEANED_AFTER_YEARS = (1.0, 3.0)
# enough of each for forty years
FEWEST_JUMPS, JUMPS_FOR_YEARS, CLEANINGS = 10, 80, 24
# Wet events are shared: so many of the mats are out there, and so many of a mat's cables take a step, of so many dB.
WET_MATS, WET_CABLES, WET_STEP_DB = 0.25, 0.5, (0.05, 0.3)
WET_FOR_YEARS = 60
MONTHS, WANDERS_FOR_YEARS = 12, 40
# positions of one mat of eight
MAT_LENGTHS_M = (0.6, 0.9, 1.3, 1.7, 2.1, 2.6, 2.8, 3.0)


@dataclass(frozen=True)
class Wear:
    """How the cables of a pool wear; dB, years, metres. Level and rate: (at no length, for each metre).

    `sigma`: scatter of one reading; `jumps_a_year`: sudden rises at a connector by `jump_db`, at any time alike;
    `dirt_a_year`: what gathers at a connector until it is cleaned; `wet_events_a_year`: of the whole pool; `wander`:
    standard deviation of what a year adds by chance, to and fro.
    """

    level: tuple = (0.217, 0.564)
    rate: tuple = (0.115, 0.117)
    sd_level: float = 0.054
    sd_rate: float = 0.09
    sigma: float = 0.07
    lengths_m: tuple = MAT_LENGTHS_M
    jumps_a_year: float = 0.0
    jump_db: tuple = (0.2, 0.6)
    dirt_a_year: float = 0.0
    wet_events_a_year: float = 0.0
    wander: float = 0.0

    def length_m(self, segments):
        return np.resize(np.array(self.lengths_m), segments)

    def __str__(self):
        level, rate = (f"{a:g} + {b:g} per m" if b else f"{a:g}" for a, b in (self.level, self.rate))
        line = (
            f"level {level} ± {self.sd_level:g} dB; rate {rate} ± {self.sd_rate:g} dB a year; "
            f"a reading ± {self.sigma:g} dB"
        )
        return "\n  ".join(filter(None, [line, "; ".join(filter(None, self._disturbances()))]))

    def _disturbances(self):
        (low, high), (soon, late), (wet_low, wet_high) = self.jump_db, CLEANED_AFTER_YEARS, WET_STEP_DB
        return (
            self.wander and f"wanders by {self.wander:g} dB within a year",
            self.jumps_a_year and f"{self.jumps_a_year:g} jumps a year of {low:g} to {high:g} dB",
            self.dirt_a_year and f"dirt {self.dirt_a_year:g} dB a year, cleaned every {soon:g} to {late:g} years",
            self.wet_events_a_year
            and f"{self.wet_events_a_year:g} wet events a year, {WET_MATS:.0%} of the mats at each, {WET_CABLES:.0%} "
            f"of their cables step up by {wet_low:g} to {wet_high:g} dB",
        )


@dataclass(frozen=True)
class Paths:
    """True losses over years since first fitted: a rising line and steps on it.

    `level` dB, `rate` dB a year: (segments,); `step_at` years, in order, and `step_db`: (segments, steps).
    """

    level: np.ndarray
    rate: np.ndarray
    step_at: np.ndarray
    step_db: np.ndarray

    def take(self, rows):
        return Paths(self.level[rows], self.rate[rows], self.step_at[rows], self.step_db[rows])

    def with_steps(self, step_at, step_db):
        """The same with more steps, in any order."""
        at, db = np.hstack([self.step_at, step_at]), np.hstack([self.step_db, step_db])
        order = np.argsort(at, axis=1)
        return Paths(
            self.level, self.rate, np.take_along_axis(at, order, axis=1), np.take_along_axis(db, order, axis=1)
        )

    def at(self, years):
        """Loss in dB of each at its own `years`."""
        steps = np.where(self.step_at <= years[:, None], self.step_db, 0.0).sum(axis=1)
        return self.level + self.rate * years + steps

    def crossing(self):
        """Years at which each first reaches the limit."""
        none = np.zeros((len(self.level), 1))
        start, end = np.hstack([none, self.step_at]), np.hstack([self.step_at, none + np.inf])
        base = self.level[:, None] + np.cumsum(np.hstack([none, self.step_db]), axis=1)
        reached = np.maximum((LIMIT_DB - base) / self.rate[:, None], start)
        return np.where(reached < end, reached, np.inf).min(axis=1)


def draw_paths(rng, wear, length_m, use=1.0):
    """Paths of fresh cables; `use`: factor on the mean rate of each."""
    level = wear.level[0] + wear.level[1] * length_m + wear.sd_level * rng.standard_normal(len(length_m))
    rate = _rising(rng, (wear.rate[0] + wear.rate[1] * length_m) * use, wear.sd_rate)
    bare = Paths(level, rate + wear.dirt_a_year, *np.empty((2, len(level), 0)))
    for steps in (_jumps, _cleanings, _wandering):
        bare = bare.with_steps(*steps(rng, wear, len(level)))
    return bare


def with_wet_events(rng, wear, paths, fitted_at):
    """The paths with the steps of shared wet events; `fitted_at`: years on the calendar of the records, (segments,)."""
    if not wear.wet_events_a_year:
        return paths
    events, segments = round(wear.wet_events_a_year * WET_FOR_YEARS), len(fitted_at)
    event_at = np.cumsum(rng.exponential(1 / wear.wet_events_a_year, events))
    mat = np.arange(segments) // len(MAT_LENGTHS_M)
    out = rng.random((mat[-1] + 1, events)) < WET_MATS
    steps = out[mat] & (rng.random((segments, events)) < WET_CABLES)
    step_at = event_at - fitted_at[:, None]
    step_db = np.where(steps & (step_at > 0), rng.uniform(*WET_STEP_DB, steps.shape), 0.0)
    return paths.with_steps(np.maximum(step_at, 0.0), step_db)


def _rising(rng, mean, sd):
    """Normal rates, drawn again where they are not above 0: wear does not heal."""
    rate = mean + sd * rng.standard_normal(len(mean))
    while (falls := rate <= 0).any():
        rate[falls] = mean[falls] + sd * rng.standard_normal(falls.sum())
    return rate


def _jumps(rng, wear, segments):
    if not wear.jumps_a_year:
        return np.empty((segments, 0)), np.empty((segments, 0))
    jumps = max(FEWEST_JUMPS, round(wear.jumps_a_year * JUMPS_FOR_YEARS))
    gaps = rng.exponential(1 / wear.jumps_a_year, (segments, jumps))
    return np.cumsum(gaps, axis=1), rng.uniform(*wear.jump_db, gaps.shape)


def _cleanings(rng, wear, segments):
    """Each takes off what has gathered since the one before."""
    if not wear.dirt_a_year:
        return np.empty((segments, 0)), np.empty((segments, 0))
    gaps = rng.uniform(*CLEANED_AFTER_YEARS, (segments, CLEANINGS))
    return np.cumsum(gaps, axis=1), -wear.dirt_a_year * gaps


def _wandering(rng, wear, segments):
    """By a step a month, for as long as cables are watched at the most."""
    if not wear.wander:
        return np.empty((segments, 0)), np.empty((segments, 0))
    at = np.arange(1, MONTHS * WANDERS_FOR_YEARS + 1) / MONTHS
    return np.tile(at, (segments, 1)), wear.wander / MONTHS**0.5 * rng.standard_normal((segments, len(at)))


def generator(seed, *names):
    """Random numbers of one pool of one trial, the same however many others are run."""
    return np.random.default_rng([seed, *(crc32(str(name).encode()) for name in names)])
