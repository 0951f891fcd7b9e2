"""Whether what a rule costs is told rightly: `python tests/benchmarks/rule_costs.py [--pools N] [--world NAME]
[--size N] [--jobs N] [--quick]`

Pools of known wear are read on bench days and fitted as their keeper would, and the numbers of the page of costs come
out of that fit. The truth comes out of many cables of the true wear: how long each lasts, and what that costs on
average where readings come at random, without a curve, a trend or a root. A 90 % interval holds it in 90 of 100 pools
if it is right; goal 85 to 95. Told apart: over points of the variance parameters, and with these taken as known.
"""

import os
from dataclasses import dataclass
from functools import cache, cached_property

# several pools at once, not several threads at one
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from many_pools import options_of, over_points, told
from rule_trials import WORLDS, fitted
from simulated_pools import LIMIT_DB, draw_paths, generator

from inspections.numeric.crossings import HORIZON_YEARS
from inspections.numeric.lives.modelled import Kinds, drawn_lives, fresh_lives
from inspections.numeric.lives.resampling import interval
from inspections.numeric.replacement.cheapest_age import LEAST_SAVING, Costs
from inspections.numeric.replacement.life_curves import curve_ages
from inspections.numeric.replacement.trend_costs import trend_costs

SEED = 20261128
SIZES = (24, 160, 400)
GOAL = (85.0, 95.0)
TODAY, CHECKS_A_YEAR, EVENTS_A_YEAR = 3.0, 1.0, 50.0
# of one cable: a planned change, and that of one found over; a missed read that hardly matters, and one that does
PLANNED, FOUND = 24.0, 29.0
EVENT_COSTS = (0.5, 5.0)
# cables whose lives are the truth of a length, fewer where each takes a step a month
TRUE_CABLES, WANDERING, QUICKLY, AT_ONCE = 400_000, 40_000, 2_000, 10_000
TRUE_AGES = np.concatenate([np.arange(0.05, 12, 0.01), np.arange(12, HORIZON_YEARS + 0.05, 0.1)])
# by so much a truth of many cables, and a curve between ages, are not exact
SAME = 1e-3
ASKED = ("cheapest age", "its cost a year", "today’s cost", "today costs more")


def main():
    options = parse_options()
    print(
        f"Seed {options.seed}, {options.pools} pools of each kind and size. Limit {LIMIT_DB:g} dB, today {TODAY:g} "
        f"years; a change costs {PLANNED:g}, of one found over {FOUND:g}; {CHECKS_A_YEAR:g} reading a cable and year, "
        f"{EVENTS_A_YEAR:g} events a year.\nHeld: in how many of 100 pools the interval of 90 % held the truth "
        f"(! misses {GOAL[0]:g} to {GOAL[1]:g}), and in how many the truth lay below and above.\n"
        "Width: median, in percent of the truth. At the optimum: held, with the variance parameters taken as known.\n"
        "Nearly: ages said to cost at most 5 % more; how much dearer than the least the dearest of them truly was,\n"
        "and the age said to be cheapest; median and 90th of 100 pools."
    )
    for name in options.worlds or WORLDS:
        print_world(name, options)


def parse_options():
    parser = options_of(__doc__, seed=SEED, pools=100, sizes=SIZES, quick="two small pools", worlds=list(WORLDS))
    options = parser.parse_args()
    options.sizes, options.true_cables = options.sizes or SIZES, TRUE_CABLES
    if options.quick:
        options.pools, options.sizes, options.true_cables = 2, SIZES[:1], QUICKLY
        options.worlds = ["eight lengths in a mat"]
    return options


@dataclass(frozen=True)
class Truth:
    """Sorted lives of cables of a length, in years, under one cost of being over a year: what changing at an age costs
    a year, on average over when readings come."""

    lives: np.ndarray
    over: float

    def cost(self, age):
        """At ages (ages,); inf: never, counted to the horizon."""
        age = np.minimum(np.atleast_1d(np.asarray(age, float)), HORIZON_YEARS)
        n, gone = len(self.lives), np.searchsorted(self.lives, age)
        lived = (self.lived_by[gone] + (n - gone) * age) / n
        # of each that was over before that age: e^(−checks · time since) is the chance that nobody has read it
        found = (gone - np.exp(-CHECKS_A_YEAR * age) * self.unread_by[gone]) / n
        over = found / CHECKS_A_YEAR
        return (PLANNED * (1 - found) + FOUND * found + self.over * over) / (lived + over)

    @cached_property
    def lived_by(self):
        return _summed(self.lives)

    @cached_property
    def unread_by(self):
        return _summed(np.exp(CHECKS_A_YEAR * np.minimum(self.lives, HORIZON_YEARS)))

    @cached_property
    def best(self):
        """(age, cost); inf where changing by age saves nothing."""
        costs, never = self.cost(TRUE_AGES), float(self.cost(np.inf)[0])
        least = costs.argmin()
        saves = costs[least] < (1 - LEAST_SAVING) * never
        return (float(TRUE_AGES[least]), float(costs[least])) if saves else (np.inf, never)


def _summed(values):
    return np.concatenate([[0.0], np.cumsum(np.where(np.isfinite(values), values, 0.0))])


def asked_lengths(name):
    """The shortest, one between them and the longest."""
    lengths = WORLDS[name].wear.lengths_m
    return sorted({lengths[0], lengths[len(lengths) // 2], lengths[-1]})


@cache
def truths(name, cables):
    """{(length, cost of an event): Truth} of a world."""
    wear = WORLDS[name].wear
    cables = min(cables, WANDERING) if wear.wander else cables
    found = {}
    for length_m in asked_lengths(name):
        rng = generator(SEED, name, "truth", length_m)
        turns = [np.full(min(AT_ONCE, cables), length_m)] * max(cables // AT_ONCE, 1)
        lives = np.sort(np.concatenate([draw_paths(rng, wear, lengths).crossing() for lengths in turns]))
        found |= {(length_m, cost): Truth(lives, cost * EVENTS_A_YEAR) for cost in EVENT_COSTS}
    return found


def print_world(name, options):
    print(f"\n{name}: {WORLDS[name]}")
    known = truths(name, options.true_cables)
    for size in options.sizes:
        asked = [(options.seed, name, size, k) for k in range(options.pools)]
        pools = [pool for pool in told(ask_pool, asked, options.jobs) if pool is not None]
        print(f"  {size} cables; {len(pools)} of {options.pools} pools with a fit")
        print(
            f"    {'an event costs':>14}{'cables':>8}  {'asked':18}{'truth':>8}{'held':>7}{'below':>7}{'above':>7}"
            f"{'width':>8}{'at the optimum':>16}"
        )
        for row, event_cost in enumerate(EVENT_COSTS):
            for length_m in asked_lengths(name):
                print_rows(event_cost, f"{length_m:g} m", ASKED, [asked_of(known, p, length_m, row) for p in pools])
                print(f"    {'':22}  {nearly_in_words(known, pools, length_m, row)}")
            whole = [whole_of(known, pool, size, row) for pool in pools]
            print_rows(event_cost, "all", ASKED[-1:], whole)


def ask_pool(asked):
    """({length: TrendCosts} over points, the same at the optimum) of pool `k`; None without a fit."""
    seed, name, size, k = asked
    rng, world = generator(seed, name, size, k), WORLDS[name]
    length_m = world.wear.length_m(size)
    model, readings, left_out = fitted(rng, world, length_m)
    if model.points is None:
        return None
    wide = over_points(model, readings, left_out, length_m)
    found = costs_of_lengths(wide.points, asked_lengths(name))
    # of a small pool both are one
    return found, found if wide is model else costs_of_lengths(model.points, asked_lengths(name))


def costs_of_lengths(points, lengths):
    ages, kinds = curve_ages(HORIZON_YEARS), Kinds.of(lengths, LIMIT_DB)
    within = 1 - fresh_lives(points, kinds).share_over(ages)
    drawn = 1 - np.nan_to_num(drawn_lives(points, kinds).shares_apart(ages))
    costs = [Costs(PLANNED, FOUND, event_cost * EVENTS_A_YEAR) for event_cost in EVENT_COSTS]
    return {
        length_m: trend_costs(ages, within[:, kind], drawn[:, :, kind], costs, TODAY, CHECKS_A_YEAR)
        for kind, length_m in enumerate(lengths)
    }


def asked_of(known, pool, length_m, row):
    """[[(truth, low, high) of each that is asked] over points, and at the optimum] of one length."""
    truth = known[length_m, EVENT_COSTS[row]]
    age, least = truth.best
    today = float(truth.cost(TODAY)[0])
    return [
        (
            (age, found.age_low[row], found.age_high[row]),
            (least, found.cost_low[row], found.cost_high[row]),
            (today, found.today_low[row], found.today_high[row]),
            (today - float(truth.cost(found.best.age[row])[0]), *interval(found.more_drawn[row])),
        )
        for found in (costs[length_m] for costs in pool)
    ]


def whole_of(known, pool, size, row):
    """The same of what today's limit costs more in all cables, as many of each length."""
    answers = []
    for costs in pool:
        times = size / len(costs)
        truth, drawn = 0.0, 0.0
        for length_m, found in costs.items():
            of_length = known[length_m, EVENT_COSTS[row]]
            truth += times * float(of_length.cost(TODAY)[0] - of_length.cost(found.best.age[row])[0])
            drawn = drawn + times * found.more_drawn[row]
        answers.append(((truth, *interval(drawn)),))
    return answers


def print_rows(event_cost, cables, asked, pools):
    """`pools`: of each what `asked_of` says."""
    for number, what in enumerate(asked):
        (truth, low, high), (narrow_truth, narrow_low, narrow_high) = (
            np.array([pool[way][number] for pool in pools], float).T for way in (0, 1)
        )
        below, above = 100 * np.mean(truth < low * (1 - SAME)), 100 * np.mean(truth > high * (1 + SAME))
        narrow = 100 * np.mean((narrow_low <= narrow_truth) & (narrow_truth <= narrow_high))
        held = 100 - below - above
        mark = " " if GOAL[0] <= held <= GOAL[1] else "!"
        print(
            f"    {event_cost:>14g}{cables:>8}  {what:18}{np.median(truth):>8.2f}{held:>6.0f}{mark}{below:>7.0f}"
            f"{above:>7.0f}{width_in_words(truth, low, high):>8}{narrow:>16.0f}"
        )


def width_in_words(truth, low, high):
    with np.errstate(invalid="ignore", divide="ignore"):
        width = np.median((high - low) / np.abs(np.median(truth)))
    return f"{100 * width:.0f}%" if np.isfinite(width) else "open"


def nearly_in_words(known, pools, length_m, row):
    truth = known[length_m, EVENT_COSTS[row]]
    _, least = truth.best
    bests = [pool[0][length_m].best for pool in pools]
    ends = np.array([truth.cost([best.low[row], best.high[row]]).max() for best in bests])
    said = np.array([float(truth.cost(best.age[row])[0]) for best in bests])
    (end, far_end), (age, far_age) = (100 * (np.percentile(each, (50, 90)) / least - 1) for each in (ends, said))
    return f"nearly: dearest end {end:.0f} % (90th {far_end:.0f}), age said {age:.1f} % (90th {far_age:.1f}) dearer"


if __name__ == "__main__":
    main()
