"""Can the intervals of age limits be trusted? `python tests/benchmarks/limit_coverage.py [--pools N] [--world NAME]
[--size N] [--jobs N] [--quick]`

Pools are read as a bench would read them and fitted, and the age by which 5 % of fresh cables of a length are over is
asked through the app's own numeric core. What is true comes from a formula, or from the lives of many other cables of
the same world. Told apart: pools answered at their optimum, and over points of their variance parameters.
"""

import os
import sys
import time
from dataclasses import dataclass
from functools import cache
from pathlib import Path

# several pools at once, not several threads at one
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from coverage import WORLDS as READ_WORLDS
from drawn_pools import draw_pool
from many_pools import options_of, over_points, told
from simulated_benches import RECORD_YEARS, read_on_bench_days
from simulated_pools import LIMIT_DB, draw_paths, generator, with_wet_events

from inspections.numeric.bench_day_keys import bench_day_key
from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.lives.limits_by_length import limits_of_kinds
from inspections.numeric.lives.modelled import Kinds
from inspections.numeric.pool_model import fit_pool_model

SEED = 20261128
RISK = 0.05
GOAL = (85.0, 95.0)
SIZES = (8, 30, 160, 400, 1000)
QUICK_SIZES = (8, 160)
# of the model itself: sizes count cables with and without a reading
MODEL_WORLD = "the model’s own: wander, shifts of 0.1 dB"
MODEL_LENGTHS_M = (1.1, 2.1)
LENGTHS_M = (1.3, 2.6)
WORLDS = (MODEL_WORLD, "straight lines, eight lengths", "shift of 0.1 dB, jumps and dirt")
TRUE_CABLES = 200_000


@dataclass(frozen=True)
class Answer:
    """Of one pool: `low`, `high`, `age` (lengths,) over points, and `narrow`: whether the interval at the optimum held
    the truth; None where there was no fit. `spent_s`: of the points and the limits, processor time."""

    age: np.ndarray
    low: np.ndarray
    high: np.ndarray
    narrow: np.ndarray
    spent_s: float


def main():
    options = parse_options()
    print(
        f"Seed {options.seed}; {options.pools} pools of each size. Limit {LIMIT_DB:g} dB, accepted risk {RISK:.0%}, "
        "intervals of 90 %.\n"
        f"Held: the interval held the true age, percent of the pools with a fit; ! misses {GOAL[0]:g} to {GOAL[1]:g}. "
        "Width: end over beginning, median.\n"
        "At the optimum: the same with the variance parameters taken as known, where the trend takes them so."
    )
    for name in options.worlds:
        print_world(name, options)


def parse_options():
    parser = options_of(__doc__, seed=SEED, pools=100, sizes=SIZES, quick="two pools of two sizes", worlds=WORLDS)
    options = parser.parse_args()
    options.pools = 2 if options.quick else options.pools
    options.worlds = options.worlds or (WORLDS[:1] if options.quick else WORLDS)
    options.sizes = options.sizes or (QUICK_SIZES if options.quick else SIZES)
    return options


def print_world(name, options):
    truth = true_ages(name)
    said = ", ".join(f"{m:g} m {age:.2f}" for m, age in zip(lengths_of(name), truth, strict=True))
    print(f"\n{name}\n  true ages in years: {said}")
    print(f"  {'cables':>7}{'fitted':>7}{'length':>8}{'held':>7}{'width':>7}{'at the optimum':>16}{'ms a pool':>11}")
    for size in options.sizes:
        asked = [(options.seed, name, size, k) for k in range(options.pools)]
        answers = [answer for answer in told(ask_pool, asked, options.jobs) if answer is not None]
        for row, length_m in enumerate(lengths_of(name)):
            print(row_of(size, length_m, truth[row], answers, row))


def row_of(size, length_m, truth, answers, row):
    low, high = (np.array([getattr(answer, end)[row] for answer in answers]) for end in ("low", "high"))
    held = 100 * np.mean((low <= truth) & (truth <= high))
    narrow = 100 * np.mean([answer.narrow[row] for answer in answers])
    mark = " " if GOAL[0] <= held <= GOAL[1] else "!"
    with np.errstate(divide="ignore"):
        width = np.median(high / low)
    spent_ms = 1000 * np.mean([answer.spent_s for answer in answers])
    return (
        f"  {size:>7}{len(answers):>7}{length_m:>6g} m{held:>6.0f}{mark}{width:>7.2f}{narrow:>16.0f}{spent_ms:>11.0f}"
    )


def lengths_of(name):
    return MODEL_LENGTHS_M if name == MODEL_WORLD else LENGTHS_M


@cache
def true_ages(name):
    """Ages by which the accepted share is over (lengths,)."""
    if name == MODEL_WORLD:
        return np.array([age_of_model(length_m) for length_m in MODEL_LENGTHS_M])
    rng, wear = generator(SEED, name, "truth"), READ_WORLDS[name].wear
    return np.array(
        [np.quantile(draw_paths(rng, wear, np.full(TRUE_CABLES, length_m)).crossing(), RISK) for length_m in LENGTHS_M]
    )


def age_of_model(length_m):
    """Of `draw_pool`: level 0.2 + 0.5 dB/m, rate 0.1 + 0.1 dB/m a year, standard deviations 0.1 and 0.05, wander 0.08
    dB in a year."""
    from scipy.optimize import brentq
    from scipy.special import ndtri

    level, rate, z = 0.2 + 0.5 * length_m, 0.1 + 0.1 * length_m, ndtri(1 - RISK)
    return brentq(lambda t: level + rate * t + z * np.sqrt(0.01 + 0.0025 * t**2 + 0.0064 * t) - LIMIT_DB, 0, 100)


def ask_pool(asked):
    """Answer of pool `k` of a world and size."""
    seed, name, size, k = asked
    readings, length_m = read_pool(seed, name, size, k)
    model, left_out = fit_pool_model(readings, length_m)
    if model.points is None:
        return None
    kinds, truth = Kinds.of(lengths_of(name), LIMIT_DB, RISK), true_ages(name)
    plain = limits_of_kinds(model.points, kinds, 0.0)
    begun = time.process_time()
    wide = over_points(model, readings, left_out, length_m)
    found = limits_of_kinds(wide.points, kinds, 0.0)
    spent_s = time.process_time() - begun
    return Answer(found.age, found.low, found.high, (plain.low <= truth) & (truth <= plain.high), spent_s)


def read_pool(seed, name, size, k):
    """(FitReadings, length of each cable)."""
    if name == MODEL_WORLD:
        pool = draw_pool(int(generator(seed, name, size, k).integers(2**31)), size, 6, 14)
        return pool.readings, pool.length_m
    rng, world = generator(seed, name, size, k), READ_WORLDS[name]
    length_m, fitted_at = world.wear.length_m(size), rng.uniform(0, RECORD_YEARS - 1, size)
    paths = with_wet_events(rng, world.wear, draw_paths(rng, world.wear, length_m), fitted_at)
    segment, years, loss_db, day, bench = read_on_bench_days(rng, world.wear.sigma, world.bench, paths, fitted_at)
    return FitReadings.of(segment, years, loss_db, day=bench_day_key(day, bench)), length_m


if __name__ == "__main__":
    main()
