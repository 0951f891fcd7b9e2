"""Whether a trial of rules holds the truth: `python tests/benchmarks/rule_trials.py [--pools N] [--quick]`

Pools of known wear are read on bench days and fitted, and rules are played from each fit. The truth is the same rules
played on cables of the true wear: for many times ten years, so that chance evens out, with what that pool's keeper
knows. A 90 % interval holds it in 90 of 100 pools if it is right; goal 85 to 95.
"""

import os

# one thread, as the app's settings have it: several wait for each other by turning, and would be measured
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from many_pools import options_of, over_points, told
from simulated_benches import Bench, World, read_on_bench_days
from simulated_pools import LIMIT_DB, Wear, draw_paths, generator
from spent import timed_with

from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.lives.limits_by_length import limits_of_kinds
from inspections.numeric.lives.modelled import Kinds
from inspections.numeric.pool_model import INSTRUMENT_SD_DB, fit_pool_model
from inspections.numeric.rule_trial.answers import Spread
from inspections.numeric.rule_trial.plays import play
from inspections.numeric.rule_trial.predictions import Knowledge
from inspections.numeric.rule_trial.records import FixedRule, Places, TrendRule
from inspections.numeric.rule_trial.worlds import Worlds, copies_of, drawn_worlds
from inspections.numeric.wear_states import SegmentStates

SEED = 20261128
RISK, EVENTS_A_YEAR, POSITIONS_A_MAT = 0.05, 50.0, 8
RECORD_YEARS = 5.0
SIZES = (24, 160, 400)
# the truth is played on so many places at least
TRUE_PLACES, QUICKLY = 12_000, 1_000
EVEN = {"level": (1.2, 0), "rate": (0.36, 0), "sd_level": 0.3, "sd_rate": 0.1, "lengths_m": (1.0,)}
WORLDS = {
    "one length": World(Wear(**EVEN), Bench(shift=0.1)),
    "eight lengths in a mat": World(Wear(), Bench(shift=0.1)),
    "eight lengths, wear that wanders": World(Wear(wander=0.08), Bench(shift=0.1)),
}
ASKED = {"cables": "changes", "events over": "events_over", "late": "late"}


def main():
    options = parse_options()
    print(
        f"Seed {options.seed}, {options.pools} pools of each kind and size. Limit {LIMIT_DB} dB, risk {RISK:.0%}, "
        f"{EVENTS_A_YEAR:.0f} events a year.\nInside: how many of 100 intervals of 90 % hold the truth (goal 85 to "
        "95), and below and above it. Width: of the interval, in percent of the truth."
    )
    for name in options.worlds or WORLDS:
        world = WORLDS[name]
        print(f"\n{name}: {world}")
        for size in options.sizes:
            asked = [(options.seed, name, size, k, options.true_places) for k in range(options.pools)]
            trials = told(one_trial, asked, options.jobs)
            print_size(size, [rows for _, rows in trials], np.mean([spent.cpu_s for spent, _ in trials]))


def parse_options():
    parser = options_of(__doc__, seed=SEED, pools=100, sizes=SIZES, quick="two small pools", worlds=list(WORLDS))
    options = parser.parse_args()
    options.sizes, options.true_places = options.sizes or SIZES, QUICKLY if options.quick else TRUE_PLACES
    if options.quick:
        options.pools, options.sizes, options.worlds = 2, SIZES[:1], ["eight lengths in a mat"]
    return options


def one_trial(asked):
    """(Spent on the trial, {(rule, what is asked): (Spread, truth)}) of pool `k`."""
    seed, name, size, k, true_size = asked
    rng, world = generator(seed, name, size, k), WORLDS[name]
    length_m = world.wear.length_m(size)
    places = Places(
        mat=np.arange(size) // POSITIONS_A_MAT,
        length_m=length_m,
        limit_db=np.full(size, LIMIT_DB),
        accepted_risk=np.full(size, RISK),
        events_a_year=np.full(size, EVENTS_A_YEAR),
        pace=np.ones(size),
    )
    points = over_points(*fitted(rng, world, length_m), length_m).points
    rules, knowledge = rules_of(points, places), Knowledge.of(points, places)
    spent, outcomes = timed_with(lambda: play_all(rules, drawn_worlds(points, places), places, knowledge))
    truths = play_all(rules, true_worlds(world, places, true_size), places, knowledge, seed=2)
    return spent, {
        (rule, what): (Spread.of(getattr(outcomes[rule], name)), float(getattr(truths[rule], name).mean()))
        for rule in rules
        for what, name in asked_of(rules[rule]).items()
    }


def asked_of(rule):
    """What has to be played: cables a year follow from the life that a rule gives them."""
    return {what: name for what, name in ASKED.items() if name != "changes" or isinstance(rule, TrendRule)}


def play_all(rules, worlds, places, knowledge, seed=1):
    return {name: play(rule, worlds, places, knowledge, seed=seed) for name, rule in rules.items()}


def fitted(rng, world, length_m):
    """(PoolModel, FitReadings, which are left out) that a keeper of such a pool has."""
    paths = draw_paths(rng, world.wear, length_m)
    fitted_at = rng.uniform(0, RECORD_YEARS, len(length_m))
    segment, years, loss_db, day, _ = read_on_bench_days(rng, world.wear.sigma, world.bench, paths, fitted_at)
    readings = FitReadings.of(segment, years, loss_db, np.zeros(len(segment), bool), day=day)
    model, left_out = fit_pool_model(readings, length_m)
    return model, readings, left_out


def rules_of(points, places):
    lengths, row = np.unique(places.length_m, return_inverse=True)
    limits = limits_of_kinds(points, Kinds.of(lengths, LIMIT_DB, RISK), 3.0).age[row]
    return {
        "3 years": FixedRule(np.full(len(places), 3.0)),
        "limits by length": FixedRule(limits),
        "trend, 12 months": TrendRule(12, INSTRUMENT_SD_DB),
    }


def true_worlds(world, places, true_size):
    """Worlds of the wear that these pools have."""
    wear, copies = world.wear, copies_of(places, true_size)
    level, rate = (a + b * places.length_m for a, b in (wear.level, wear.rate))
    spread = (np.full(len(places), value) for value in (wear.sd_level**2, 0.0, wear.sd_rate**2, wear.wander**2))
    none = np.zeros((copies, 1))
    return Worlds(
        fresh=SegmentStates(*(np.tile(part, (copies, 1)) for part in (level, rate, *spread))),
        settling_db=none,
        lowered_db=none,
        sigma_db=none + wear.sigma,
        day_sd_db=none + world.bench.shift,
        damage_a_year=none,
        by_years=True,
        copies=copies,
    )


def print_size(size, trials, seconds):
    print(f"  {size} cables; {seconds:.1f} s of the processor for the trial of one pool")
    print(f"    {'rule':18}{'asked':14}{'truth a year':>13}{'inside':>8}{'below':>7}{'above':>7}{'width':>8}")
    for rule, what in trials[0]:
        spreads, truth = zip(*(trial[rule, what] for trial in trials), strict=True)
        low, high = (np.array([getattr(spread, end) for spread in spreads]) for end in ("low", "high"))
        truth = np.array(truth)
        below, above = 100 * np.mean(truth < low), 100 * np.mean(truth > high)
        width = 100 * np.mean(high - low) / max(truth.mean(), 1e-9)
        shares = f"{100 - below - above:>8.0f}{below:>7.0f}{above:>7.0f}{width:>7.0f}%"
        print(f"    {rule:18}{what:14}{truth.mean():>13.2f}{shares}")


if __name__ == "__main__":
    main()
