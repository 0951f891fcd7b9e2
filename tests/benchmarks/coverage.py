"""Can the trend's uncertainty be trusted? `python tests/benchmarks/coverage.py [--pools N] [--world NAME] [--size N]`

Pools whose true crossing is known are read as a bench would read them, fitted and asked through the app's own numeric
core. The true crossing lies inside the stated 90 % interval when the chance stated for that very time lies between 5 %
and 95 %. "Half used": the true crossing comes only after twice the time to the date.
"""

import os
import time
from dataclasses import dataclass, fields, replace

# several pools at once, not several threads at one
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from many_pools import options_of, told
from simulated_benches import BENCH_DAYS_A_YEAR, MOST_READINGS, RECORD_YEARS, Bench, World, read_on_bench_days
from simulated_pools import LIMIT_DB, Wear, draw_paths, generator, with_wet_events

from inspections.numeric.bench_day_keys import bench_day_key
from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.pool_model import fit_pool_model
from inspections.numeric.segment_trends import Segments, assess_segments

SEED = 20260930
# calibration asks each cable's chance for a day drawn from so many years after the records
AHEAD_YEARS = 10.0
AGE_RULE_YEARS = 3.0
RISK = 0.05
# what is to lie in the 90 % interval, and to be over before the early date, in percent
GOAL_INSIDE, GOAL_OVER = (85.0, 95.0), (3.0, 7.0)


WORLDS = {
    "straight lines, eight lengths": World(),
    "straight lines, one length": World(
        Wear(level=(1.2, 0), rate=(0.15, 0), sd_level=0.3, sd_rate=0.06, sigma=0.05, lengths_m=(1.0,))
    ),
    "bench days shifted by 0.1 dB": World(bench=Bench(shift=0.1)),
    "bench days shifted by 0.2 dB": World(bench=Bench(shift=0.2)),
    "jumps at connectors": World(Wear(jumps_a_year=0.05)),
    "dirt and cleaning": World(Wear(dirt_a_year=0.1)),
    "shift of 0.1 dB, jumps and dirt": World(Wear(jumps_a_year=0.05, dirt_a_year=0.1), Bench(shift=0.1)),
    "many small jumps": World(Wear(jumps_a_year=1.0, jump_db=(0.05, 0.15))),
    "steps at wet events": World(Wear(wet_events_a_year=1.0)),
    "a drifting instrument": World(bench=Bench(drift=0.1)),
    "two benches": World(bench=Bench(offset=0.1)),
    "missing years": World(bench=Bench(missing_years=2)),
    "typing errors": World(bench=Bench(mistyped=0.02)),
}
# segments in a pool, and how many such pools for each 100 asked for
SIZES = {8: 100, 15: 67, 30: 50, 100: 50, 20_000: 8}
QUICK_SIZES = {8: 100, 100: 50}


@dataclass(frozen=True)
class Answers:
    """What was said of each cable and what was true; arrays of shape (segments,), times in years since first fitted."""

    pool: np.ndarray
    dated: np.ndarray
    chance_at_crossing: np.ndarray
    early: np.ndarray
    crossing: np.ndarray
    chance_asked: np.ndarray
    over_asked: np.ndarray

    @classmethod
    def together(cls, parts):
        return cls(*(np.concatenate([getattr(part, each.name) for part in parts]) for each in fields(cls)))

    def of_dated(self):
        return replace(self, **{each.name: getattr(self, each.name)[self.dated] for each in fields(self)})


def main():
    options = parse_options()
    print_parameters(options)
    rows, spent_s = {}, 0.0
    for name in options.worlds:
        asked = ask_pools(options, name)
        answers = {size: said for size, (said, _) in asked.items()}
        print(f"\n{name}\n  {WORLDS[name]}")
        print_coverage(asked)
        print_calibration(answers)
        rows[name] = {size: shares(said) for size, said in answers.items()}
        spent_s += sum(seconds for _, seconds in asked.values())
    print_summary(options, rows)
    print(f"\nprocessor time {spent_s:.0f} s")


def parse_options():
    parser = options_of(
        __doc__,
        seed=SEED,
        pools=60,
        sizes=SIZES,
        quick="a few small pools",
        worlds=list(WORLDS),
        counted="pools of 8 segments; of the others in proportion",
    )
    options = parser.parse_args()
    options.pools = 1 if options.quick else options.pools
    options.worlds = options.worlds or list(WORLDS)
    options.sizes = options.sizes or list(QUICK_SIZES if options.quick else SIZES)
    return options


def ask_pools(options, name):
    """(Answers, seconds of processor time) by size."""
    pools = {size: max(1, round(options.pools * SIZES[size] / 100)) for size in options.sizes}
    asked = [(options.seed, name, size, k) for size in options.sizes for k in range(pools[size])]
    said = told(ask_pool, asked, options.jobs)
    by_size = {size: [one for each, one in zip(asked, said, strict=True) if each[2] == size] for size in pools}
    return {
        size: (Answers.together([answers for answers, _ in each]), sum(seconds for _, seconds in each))
        for size, each in by_size.items()
    }


def ask_pool(asked):
    """(Answers, seconds of processor time for fit and answers) of pool `k` of a world and size."""
    seed, name, size, k = asked
    rng, world = generator(seed, name, size, k), WORLDS[name]
    length_m = world.wear.length_m(size)
    paths = draw_paths(rng, world.wear, length_m)
    fitted_at = rng.uniform(0, RECORD_YEARS - 1, size)
    paths = with_wet_events(rng, world.wear, paths, fitted_at)
    segment, years, loss_db, day, bench = read_on_bench_days(rng, world.wear.sigma, world.bench, paths, fitted_at)
    crossing, ahead = paths.crossing(), RECORD_YEARS - fitted_at + rng.uniform(0, AHEAD_YEARS, size)
    readings = FitReadings.of(segment, years, loss_db, day=bench_day_key(day, bench))
    begun = time.process_time()
    answers = answer(readings, length_m, crossing, ahead, k)
    return answers, time.process_time() - begun


def answer(readings, length_m, crossing, ahead, pool):
    model, left_out = fit_pool_model(readings, length_m)
    readings = replace(readings, left_out=left_out)
    trends = assess_segments(model, readings, Segments.of(length_m, ahead, limit_db=LIMIT_DB, accepted_risk=RISK))
    # no dates are wanted of this second question: a horizon of nothing spares the search for them
    at_crossing = assess_segments(model, readings, Segments.of(length_m, crossing, limit_db=LIMIT_DB, horizon=0.0))
    return Answers(
        pool=np.full(len(length_m), pool),
        dated=~np.isnan(trends.early),
        chance_at_crossing=at_crossing.chance_over,
        early=trends.early,
        crossing=crossing,
        chance_asked=trends.chance_over,
        over_asked=crossing <= ahead,
    )


def print_parameters(options):
    print(
        f"Seed {options.seed}; {options.pools} pools of 8 segments, the others in proportion. Limit {LIMIT_DB} dB, "
        f"accepted risk {RISK:.0%}.\n"
        f"Records of {RECORD_YEARS} years, {BENCH_DAYS_A_YEAR} bench days a year, one to {MOST_READINGS} readings of "
        "each cable.\n"
        "Shares in percent, of the cables with a date; ± is the standard error from pool to pool.\n"
        f"! misses the goal: {GOAL_INSIDE[0]:g} to {GOAL_INSIDE[1]:g} inside, {GOAL_OVER[0]:g} to {GOAL_OVER[1]:g} "
        "over before the early date.\n"
        f"Calibration asks for the chance on a day drawn from the {AHEAD_YEARS:g} years after the records."
    )


HEADINGS = (
    f"  {'':>20}{'in the stated':>19}{'over before':>18}{'after the':>11}{'half':>7}   three years:\n"
    f"  {'segments':>8}{'pools':>6}{'dated':>6}{'90 % interval':>19}{'the early date':>18}{'95 % point':>11}{'used':>7}"
    f"{'over':>8}{'half used':>11}{'ms a pool':>11}"
)


def print_coverage(asked):
    print(HEADINGS)
    for size, (said, seconds) in asked.items():
        print(coverage_row(size, said, seconds))


@dataclass(frozen=True)
class Share:
    """A share of the cables in percent, its standard error from pool to pool (nan: one pool), and its goal."""

    percent: float
    error: float
    goal: tuple

    @property
    def misses(self):
        return not self.goal[0] <= self.percent <= self.goal[1]

    def __str__(self):
        return f"{self.percent:.1f} ± {figure(self.error)}{'!' if self.misses else ' '}"


def shares(said):
    """(inside the stated interval, over before the early date) of the cables with a date."""
    dated = said.of_dated()
    chance = dated.chance_at_crossing
    inside = (chance >= RISK) & (chance <= 1 - RISK)
    return (
        Share(100 * np.mean(inside), standard_error(inside, dated.pool), GOAL_INSIDE),
        Share(100 * np.mean(chance < RISK), standard_error(chance < RISK, dated.pool), GOAL_OVER),
    )


def coverage_row(size, said, seconds):
    dated, pools = said.of_dated(), len(np.unique(said.pool))
    inside, over = shares(said)
    return (
        f"  {size:>8}{pools:>6}{percent(said.dated):>6}{inside!s:>19}{over!s:>18}"
        f"{percent(dated.chance_at_crossing > 1 - RISK):>11}{percent(dated.crossing > 2 * dated.early):>7}"
        f"{percent(said.crossing <= AGE_RULE_YEARS):>8}{percent(said.crossing > 2 * AGE_RULE_YEARS):>11}"
        f"{1000 * seconds / pools:>11.0f}"
    )


def percent(share):
    return f"{100 * np.mean(share):.1f}"


def figure(value):
    return "?" if np.isnan(value) else f"{value:.1f}"


def standard_error(hit, pool):
    """Of the share of hits, in percent: pools are drawn independently, the cables of one are not."""
    pool = np.unique(pool, return_inverse=True)[1]
    hits, count = np.bincount(pool, hit), np.bincount(pool)
    if len(count) < 2:
        return np.nan
    scatter = np.std(hits - count * hits.sum() / count.sum(), ddof=1)
    return 100 * scatter * np.sqrt(len(count)) / count.sum()


def print_calibration(answers):
    print("  chance said -> share over ± its standard error, and cables asked, by tenth of the chance; in percent")
    print(f"  {'tenth':>9}" + "".join(f"{size:>29,}" for size in answers))
    for tenth in range(10):
        cells = "".join(f"{calibration_cell(said, tenth):>29}" for said in answers.values())
        print(f"  {tenth / 10:>4.1f}-{(tenth + 1) / 10:.1f} {cells}")


def calibration_cell(said, tenth):
    inside = said.dated & (np.minimum(np.floor(said.chance_asked * 10), 9) == tenth)
    if not inside.any():
        return "-"
    over = said.over_asked[inside]
    error = figure(standard_error(over, said.pool[inside]))
    return f"{percent(said.chance_asked[inside])} -> {percent(over)} ± {error} {inside.sum():>7}"


def print_summary(options, rows):
    """All worlds and sizes on one page."""
    print(
        f"\ninside / over before the early date, percent\n{'':34}" + "".join(f"{size:>16,}" for size in options.sizes)
    )
    for name, by_size in rows.items():
        cells = (f"{in_brief(inside)} / {in_brief(over)}" for inside, over in by_size.values())
        print(f"{name:34}" + "".join(f"{cell:>16}" for cell in cells))


def in_brief(share):
    return f"{share.percent:.1f}{'!' if share.misses else ''}"


if __name__ == "__main__":
    main()
