"""Does the test of the trend against lives find wrong models, and leave right ones alone?
`python tests/benchmarks/agreement_power.py [--pools N] [--size N] [--jobs N] [--quick]`

Pools are read, fitted, and their lives compared with the fitted curve, all from the same readings as in the app. A
cable that reads over is changed that day. Worlds: the model's own, those the trend is made for, and wear that no trend
of it can follow.
"""

import os
import sys
from dataclasses import dataclass, replace
from pathlib import Path

# several pools at once, not several threads at one
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import numpy as np
from many_pools import options_of, over_points, told
from simulated_benches import RECORD_YEARS, Bench, read_on_bench_days
from simulated_pools import LIMIT_DB, Wear, draw_paths, generator

from inspections.numeric.bench_day_keys import bench_day_key
from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.lives.agreement import agreement
from inspections.numeric.lives.checks import lives_of_checks
from inspections.numeric.lives.modelled import Kinds, fresh_lives
from inspections.numeric.lives.records import Lives
from inspections.numeric.pool_model import fit_pool_model
from inspections.numeric.verdicts import verdict

SEED = 20261128
SIZES = (160, 400, 1000)
POSITIONS = 8
FAST = {"level": (1.0, 0.3), "rate": (0.2, 0.2), "sd_level": 0.2, "sd_rate": 0.12}


@dataclass(frozen=True)
class Ageing:
    """Wear, and what a trend does not see coming: `sudden_a_year`, so many cables a year step up by 3 dB; `bend` dB a
    year squared, wear that speeds up; `soft`: share of cables that wear three times as fast."""

    wear: Wear
    bench: Bench
    sudden_a_year: float = 0.0
    bend: float = 0.0
    soft: float = 0.0


RIGHT = {
    "straight lines": Ageing(Wear(**FAST), Bench()),
    "shift of 0.1 dB, jumps and dirt": Ageing(Wear(**FAST, jumps_a_year=0.05, dirt_a_year=0.1), Bench(shift=0.1)),
}
WRONG = {
    "one in ten wears three times as fast": Ageing(Wear(**FAST), Bench(shift=0.1), soft=0.1),
    "5 % a year fail at once": Ageing(Wear(**FAST), Bench(shift=0.1), sudden_a_year=0.05),
    "wear that speeds up": Ageing(Wear(level=(1.0, 0.3), rate=(0.0, 0.02)), Bench(shift=0.1), bend=0.12),
}
WORLDS = RIGHT | WRONG
QUICK_WORLDS = [next(iter(RIGHT)), next(iter(WRONG))]


def main():
    options = parse_options()
    print(
        f"Seed {options.seed}; {options.pools} pools of each size. Found: P below 5 %, percent of the pools where the "
        "test tells;\nwhere the model is right 5 would be so, and 10 is the most that is wanted."
    )
    for name in QUICK_WORLDS if options.quick else WORLDS:
        print(f"\n{name}{'' if name in RIGHT else ' (wrong)'}")
        print(f"  {'cables':>7}{'told':>6}{'over':>6}{'found':>7}{'times as often':>16}{'more':>7}{'late':>7}")
        for size in options.sizes:
            asked = [(options.seed, name, size, k) for k in range(options.pools)]
            print(row_of(size, told(ask_pool, asked, options.jobs)))


def parse_options():
    options = options_of(__doc__, seed=SEED, pools=60, sizes=SIZES, quick="a pool of two worlds").parse_args()
    options.pools = 1 if options.quick else options.pools
    options.sizes = options.sizes or (SIZES[:1] if options.quick else SIZES)
    return options


def row_of(size, found):
    over = np.median([failures for _, failures in found])
    telling = [one for one, _ in found if one is not None and one.tells]
    if not telling:
        return f"  {size:>7}{0:>6}{over:>6.0f}"
    shares = 100 * np.mean([one.disagrees for one in telling])
    times, more, late = (np.median([getattr(one, part) for one in telling]) for part in ("times", "more", "late"))
    return f"  {size:>7}{len(telling):>6}{over:>6.0f}{shares:>7.0f}{times:>16.2f}{more:>7.1f}{late:>7.1f}"


def ask_pool(asked):
    """(Agreement or None, failures) of pool `k` of a world and size."""
    seed, name, size, k = asked
    rng, world = generator(seed, name, size, k), WORLDS[name]
    length_m, readings = read_pool(rng, world, size)
    model, left_out = fit_pool_model(readings, length_m)
    lives, row = lives_of(readings, size)
    if model.points is None:
        return None, lives.failures
    points = over_points(model, readings, left_out, length_m).points
    fresh = fresh_lives(points, Kinds.of(length_m[row], LIMIT_DB), as_read=True)
    ends = np.stack([lives.entry, lives.low, np.where(lives.is_over, lives.high, 0.0)])
    entry, low, high = fresh.share_over(ends)
    return agreement(lives, entry, low, np.where(lives.is_over, high, 1.0)), lives.failures


def lives_of(readings, size):
    """(Lives by the side of the limit on which each reads, row of the cable of each)."""
    said = verdict(readings.loss_db, 0.0, LIMIT_DB)
    found = lives_of_checks(readings.segment, readings.x, said, size)
    row = np.flatnonzero((found.checks > 0) & (found.high > 0))
    return Lives.of(found.low[row], found.high[row], 0.0, row // POSITIONS), row


def read_pool(rng, world, size):
    """(length of each cable, FitReadings until each read over)."""
    length_m, fitted_at = world.wear.length_m(size), rng.uniform(0, RECORD_YEARS - 1, size)
    paths = draw_paths(rng, world.wear, length_m)
    faster = np.where(rng.random(size) < world.soft, 3.0, 1.0)
    paths = replace(paths, rate=paths.rate * faster)
    fails = rng.exponential(1 / world.sudden_a_year, size) if world.sudden_a_year else np.full(size, np.inf)
    row, years, loss_db, day, bench = read_on_bench_days(rng, world.wear.sigma, world.bench, paths, fitted_at)
    loss_db = loss_db + world.bend * years**2 + np.where(years > fails[row], 3.0, 0.0)
    order = np.lexsort((years, row))
    row, years, loss_db, day, bench = (part[order] for part in (row, years, loss_db, day, bench))
    first_over = np.full(size, np.inf)
    np.minimum.at(first_over, row[loss_db >= LIMIT_DB], years[loss_db >= LIMIT_DB])
    kept = years <= first_over[row]
    parts = (part[kept] for part in (row, years, loss_db))
    return length_m, FitReadings.of(*parts, day=bench_day_key(day, bench)[kept])


if __name__ == "__main__":
    main()
