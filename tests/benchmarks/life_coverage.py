"""Can the band of observed lives be trusted? `python tests/benchmarks/life_coverage.py [--pools N] [--quick]`

Pools are read as a bench would read them, and the share over by age is asked through the app's own numeric core, with
no form of curve assumed. What is true are the lives of many other cables of the same wear. Told apart: benches without
scatter, so that only the estimate is tried, readings whose verdict is sure, and all readings by the side of the limit.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from many_pools import options_of, told
from rule_trials import POSITIONS_A_MAT, WORLDS
from simulated_benches import RECORD_YEARS, Bench, read_on_bench_days
from simulated_pools import LIMIT_DB, draw_paths, generator

from inspections.numeric.lives.answers import group_life
from inspections.numeric.lives.checks import lives_of_checks
from inspections.numeric.lives.records import Lives
from inspections.numeric.rule_trial.plays import CERTAIN
from inspections.numeric.words import Verdict

SEED = 20261128
SIZES = (160, 400)
AGES = np.array([0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5])
SHARE = 0.05
TRUE_CABLES = 400_000
WEAR, SHIFT_DB = WORLDS["one length"].wear, WORLDS["one length"].bench.shift
# (scatter of bench and reading, of which so much is kept clear of the limit)
SEEN = {"no scatter": (0.0, 0.0), "sure readings": (1.0, CERTAIN), "by the side of the limit": (1.0, 0.0)}


def main():
    options = parse_options()
    print(f"Seed {options.seed}, {options.pools} pools of each kind. {WEAR}; a bench day ± {SHIFT_DB:g} dB.")
    print("How many of 100 bands of 90 % held the share that is truly over by an age, below, and above; none: too few.")
    truth, age_at = true_shares(options.seed)
    for size in options.sizes:
        for name in SEEN:
            pools = told(one_pool, [(options.seed, size, k, name) for k in range(options.pools)], options.jobs)
            print_size(size, name, [life for life in pools if life.is_settled], truth, age_at)


def parse_options():
    options = options_of(__doc__, seed=SEED, pools=100, sizes=SIZES, quick="few pools").parse_args()
    options.sizes = options.sizes or SIZES
    if options.quick:
        options.pools, options.sizes = 3, SIZES[:1]
    return options


def true_shares(seed):
    """(Share over by each of AGES, age by which SHARE is over)."""
    crossing = draw_paths(generator(seed, "truth"), WEAR, WEAR.length_m(TRUE_CABLES)).crossing()
    return (crossing[:, None] <= AGES).mean(axis=0), float(np.quantile(crossing, SHARE))


def one_pool(asked):
    """GroupLife of pool `k` as the bench saw it."""
    seed, size, k, name = asked
    rng, (scatter, sure) = generator(seed, size, k), SEEN[name]
    paths = draw_paths(rng, WEAR, WEAR.length_m(size))
    fitted_at = rng.uniform(0, RECORD_YEARS - 1, size)
    bench = Bench(shift=scatter * SHIFT_DB)
    cable, years, loss_db, *_ = read_on_bench_days(rng, scatter * WEAR.sigma, bench, paths, fitted_at)
    guard_db = sure * np.hypot(WEAR.sigma, SHIFT_DB)
    verdict = np.full(len(cable), Verdict.UNDECIDED)
    verdict[loss_db < LIMIT_DB - guard_db], verdict[loss_db >= LIMIT_DB + guard_db] = Verdict.WITHIN, Verdict.OVER
    seen = lives_of_checks(cable, years, verdict, size)
    known = seen.checks > 0
    mat = np.arange(size) // POSITIONS_A_MAT
    return group_life(Lives.of(seen.low[known], seen.high[known], 0.0, mat[known]), AGES, [SHARE])


def print_size(size, name, lives, truth, age_at):
    print(f"\n  {size} cables, {name}: {len(lives)} pools with enough that went over")
    print(f"    {'by':>10}{'truth %':>9}{'inside':>8}{'below':>7}{'above':>7}{'width %':>9}")
    for row, age in enumerate(AGES):
        low, high = (np.array([getattr(life.curve, end)[row] for life in lives]) for end in ("low", "high"))
        print_row(f"{age:g} years", 100 * truth[row], low, high, truth[row], 100 * np.mean(high - low))
    ends = np.array([(life.ages_at[SHARE].low, life.ages_at[SHARE].high) for life in lives if life.ages_at])
    print_row(f"{SHARE:.0%} over", age_at, *ends.T, age_at, np.mean(ends[:, 1] - ends[:, 0]))


def print_row(name, shown, low, high, truth, width):
    below, above = 100 * np.mean(truth < low), 100 * np.mean(truth > high)
    print(f"    {name:>10}{shown:>9.2f}{100 - below - above:>8.0f}{below:>7.0f}{above:>7.0f}{width:>9.2f}")


if __name__ == "__main__":
    main()
