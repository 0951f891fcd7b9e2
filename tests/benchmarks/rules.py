"""Rule against rule, over ten years: `python tests/benchmarks/rules.py [--pools N] [--world NAME] [--quick]`

The same positions, the same cables and the same accidents under each rule: changed after three years, after 150
events, on the day the trend gives at 5 % risk, and by an oracle on the day before the limit. The trend sees one reading
at fitting and one bench day a year, and is fitted afresh after each; a reading that is over for certain is acted upon
that day.
"""

import argparse
import os
from dataclasses import dataclass, replace

# one thread, as the app's settings have it: several wait for each other by turning, and would be measured
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from simulated_benches import Bench, World
from simulated_pools import LIMIT_DB, Paths, Wear, draw_paths, generator

from inspections.numeric.fit_readings import ALONE, FitReadings
from inspections.numeric.pool_model import INSTRUMENT_SD_DB, fit_pool_model
from inspections.numeric.segment_trends import Segments, assess_segments
from inspections.numeric.verdicts import verdict
from inspections.numeric.words import Verdict

SEED = 20260930
YEARS = 10
BENCH_DAY = 0.5
RISK = 0.05
AGE_LIMIT_YEARS, EVENT_LIMIT = 3.0, 150
# a mat goes to so many events a year, on average and from mat to mat
EVENTS_A_YEAR, SD_EVENTS, FEWEST_EVENTS = 50, 15, 10
MATS, POSITIONS_A_MAT = 25, 8
# crushed, torn, lost: goes out that day under every rule
ACCIDENTS_A_YEAR = 0.03
# cables that may follow one another in a position
SPARES = 40
DAY = 1 / 365.25

EVEN = {"level": (1.2, 0), "rate": (0.36, 0), "sd_level": 0.3, "sd_rate": 0.1, "lengths_m": (1.0,)}


@dataclass(frozen=True)
class Mats(World):
    """A world whose cables lie in mats of eight positions, and may wear with the events of their mat."""

    mats: int = MATS
    by_events: bool = False


WORLDS = {
    "three years are about right": Mats(Wear(**EVEN)),
    "the same, three mats only": Mats(Wear(**EVEN), mats=3),
    "the same, wear follows the events": Mats(Wear(**EVEN), by_events=True),
    "the same, real benches: shift of 0.1 dB, jumps, dirt": Mats(
        Wear(**EVEN, jumps_a_year=0.05, dirt_a_year=0.1), Bench(shift=0.1)
    ),
    "eight lengths in a mat, long ones wear faster": Mats(Wear()),
    "slow wear": Mats(Wear(level=(1.2, 0), rate=(0.15, 0), sd_level=0.3, sd_rate=0.06, sigma=0.05, lengths_m=(1.0,))),
}


@dataclass(frozen=True)
class Pool:
    """Positions, and the cables that will follow one another in each: cable = position * SPARES + how many before it.

    `years`: how long it is followed; `first_at`: when the first cable was fitted; `events_a_year`, `length_m`:
    (positions,); `crossing`, `accident`: (cables,) years since fitted.
    """

    world: Mats
    years: int
    first_at: np.ndarray
    events_a_year: np.ndarray
    length_m: np.ndarray
    paths: Paths
    crossing: np.ndarray
    accident: np.ndarray


@dataclass(frozen=True)
class Service:
    """Which cable served from when to when (`until` may lie after the end); arrays of one length."""

    cable: np.ndarray
    since: np.ndarray
    until: np.ndarray

    @classmethod
    def together(cls, parts):
        return cls(*(np.concatenate(column) for column in zip(*parts, strict=True)))


@dataclass(frozen=True)
class Outcome:
    """What one pool's ten years came to under a rule; counts and years summed over its positions."""

    cable_years: float
    years_over: float
    changes: int
    late: int
    years_left: np.ndarray


def main():
    options = parse_options()
    print_parameters(options)
    for name in options.worlds or WORLDS:
        world = WORLDS[name]
        size = options.years, min(world.mats, options.mats)
        outcomes = [follow(generator(options.seed, name, k), world, *size) for k in range(options.pools)]
        print_world(name, world, options.years, outcomes)


def parse_options():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pools", type=int, default=30, help="pools of each kind")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--world", action="append", dest="worlds", choices=list(WORLDS), metavar="NAME", help="only it")
    parser.add_argument("--quick", action="store_true", help="one small pool of each kind, to see that it runs")
    options = parser.parse_args()
    options.years, options.mats = YEARS, MATS
    if options.quick:
        options.pools, options.years, options.mats = 1, 3, 3
    return options


def follow(rng, world, years, mats):
    """Outcome by rule, of one pool."""
    pool = draw_pool(rng, world, years, mats)
    events_a_year = np.repeat(pool.events_a_year, SPARES)
    services = {
        "three years": serve(pool, np.full(len(pool.crossing), AGE_LIMIT_YEARS)),
        "150 events": serve(pool, EVENT_LIMIT / events_a_year),
        "trend, 5 % risk": TrendRule(rng, pool).serve(),
        "oracle": serve(pool, np.maximum(pool.crossing - DAY, DAY)),
    }
    return {rule: outcome_of(pool, service) for rule, service in services.items()}


def draw_pool(rng, world, years, mats):
    positions = mats * POSITIONS_A_MAT
    events_a_year = np.maximum(EVENTS_A_YEAR + SD_EVENTS * rng.standard_normal(mats), FEWEST_EVENTS)
    events_a_year = np.repeat(events_a_year, POSITIONS_A_MAT)
    length_m = world.wear.length_m(positions)
    use = events_a_year / EVENTS_A_YEAR if world.by_events else np.ones(positions)
    paths = draw_paths(rng, world.wear, np.repeat(length_m, SPARES), np.repeat(use, SPARES))
    accident = rng.exponential(1 / ACCIDENTS_A_YEAR, positions * SPARES)
    first_at = -rng.uniform(0, 1, positions)
    return Pool(world, years, first_at, events_a_year, length_m, paths, paths.crossing(), accident)


def serve(pool, life):
    """Service where each cable is changed after its `life`, or at its accident before."""
    life = np.minimum(life, pool.accident)
    cable, since, parts = np.arange(len(pool.first_at)) * SPARES, pool.first_at, []
    while len(cable):
        until = since + life[cable]
        parts.append((cable, since, until))
        again = until < pool.years
        cable, since = cable[again] + 1, until[again]
    return Service.together(parts)


class TrendRule:
    """Ten years by the trend: reads, fits, and changes each cable on the day it is due."""

    def __init__(self, rng, pool):
        self.rng, self.pool, self.model = rng, pool, None
        self.cable, self.since = np.arange(len(pool.first_at)) * SPARES, pool.first_at.copy()
        self.due = np.full(len(self.cable), np.inf)
        self.parts, self.read = [], []
        self.read_as_new(np.arange(len(self.cable)))

    def serve(self):
        for bench_at in np.arange(self.pool.years) + BENCH_DAY:
            self.change_until(bench_at)
            self.measure(bench_at)
        self.change_until(self.pool.years)
        self.parts.append((self.cable, self.since, np.full(len(self.cable), np.inf)))
        return Service.together(self.parts)

    def change_until(self, day):
        """Change what is due or has its accident before `day`; what comes in may be due before it too."""
        while (rows := np.flatnonzero((until := self.leaves_at()) < day)).size:
            self.parts.append((self.cable[rows], self.since[rows], until[rows]))
            self.cable[rows] += 1
            self.since[rows] = until[rows]
            self.due[rows] = until[rows] + self.early_from_as_new(rows, self.read_as_new(rows))

    def leaves_at(self):
        return np.minimum(self.due, self.since + self.pool.accident[self.cable])

    def read_as_new(self, rows):
        """Each on its own day, so with a shift of its own."""
        scatter = np.hypot(self.pool.world.wear.sigma, self.pool.world.bench.shift)
        loss_db = self.true_loss(rows, np.zeros(len(rows))) + scatter * self.rng.standard_normal(len(rows))
        self.read.append((self.cable[rows], np.zeros(len(rows)), loss_db, np.full(len(rows), ALONE)))
        return loss_db

    def early_from_as_new(self, rows, loss_db):
        if self.model is None:
            return np.full(len(rows), np.inf)
        count = np.arange(len(rows))
        readings = FitReadings.of(count, np.zeros(len(rows)), loss_db, np.ones(len(rows), bool))
        trends = assess_segments(self.model, readings, self.asked(self.pool.length_m[rows]))
        return np.where(np.isnan(trends.early), np.inf, trends.early)

    def measure(self, day):
        """The yearly bench day: read all that is fitted, fit the pool, and see what is due when."""
        rows, world = np.arange(len(self.cable)), self.pool.world
        years, shift = day - self.since, world.bench.shift * self.rng.standard_normal()
        loss_db = self.true_loss(rows, years) + shift + world.wear.sigma * self.rng.standard_normal(len(rows))
        self.read.append((self.cable.copy(), years, loss_db, np.full(len(rows), int(day))))
        early = self.refit()
        self.due = np.maximum(np.where(np.isnan(early), np.inf, self.since + early), day)
        self.due[verdict(loss_db, INSTRUMENT_SD_DB, LIMIT_DB) == Verdict.OVER] = day

    def refit(self):
        """Early time of crossing of the cables fitted; cables that went out stay in the fit."""
        cable, years, loss_db, day = (np.concatenate(column) for column in zip(*self.read, strict=True))
        cables, row = np.unique(cable, return_inverse=True)
        length_m = self.pool.length_m[cables // SPARES]
        readings = FitReadings.of(row, years, loss_db, day == ALONE, day=day)
        self.model, left_out = fit_pool_model(readings, length_m, start=self.model)
        trends = assess_segments(self.model, replace(readings, left_out=left_out), self.asked(length_m))
        return trends.early[np.searchsorted(cables, self.cable)]

    @staticmethod
    def asked(length_m):
        return Segments.of(length_m, 0.0, limit_db=LIMIT_DB, accepted_risk=RISK)

    def true_loss(self, rows, years):
        return self.pool.paths.take(self.cable[rows]).at(years)


def outcome_of(pool, service):
    if len(np.unique(service.cable)) < len(service.cable):
        raise RuntimeError("A position has used up its spares and taken its neighbour's: raise SPARES.")
    over_from = service.since + pool.crossing[service.cable]
    over = np.minimum(service.until, pool.years) - np.maximum(over_from, 0)
    changed = (service.until >= 0) & (service.until < pool.years)
    planned = changed & (service.until < service.since + pool.accident[service.cable])
    return Outcome(
        cable_years=len(pool.first_at) * pool.years,
        years_over=np.maximum(over, 0).sum(),
        changes=changed.sum(),
        late=(planned & (service.until > over_from)).sum(),
        years_left=np.maximum(over_from - service.until, 0)[planned],
    )


def print_parameters(options):
    print(
        f"Seed {options.seed}, {options.pools} pools of each kind, {options.years} years. Limit {LIMIT_DB} dB. A mat "
        f"goes to {EVENTS_A_YEAR} ± {SD_EVENTS} events a year;\n"
        f"accidents: {ACCIDENTS_A_YEAR} a cable-year. Every change is made on its day. "
        "± is the standard error from pool to pool.\n"
        "Late: changed, but not for an accident, after the limit was passed. Life left: median at a planned change."
    )


def print_world(name, world, years, outcomes):
    positions = round(outcomes[0]["oracle"].cable_years / years)
    print(f"\n{name}: {len(outcomes)} pools of {positions} positions\n  {world}")
    print(f"  {'':16}{'over the limit,':>20}{'cables used a year':>21}{'late,':>12}{'life left,':>12}")
    print(f"  {'rule':16}{'% of cable-years':>20}{'per 100 positions':>21}{'% of changes':>14}{'years':>10}")
    for rule in outcomes[0]:
        print(rule_row(rule, [outcome[rule] for outcome in outcomes]))


def rule_row(rule, outcomes):
    shares = np.array([100 * outcome.years_over / outcome.cable_years for outcome in outcomes])
    error = f"{shares.std(ddof=1) / np.sqrt(len(shares)):.2f}" if len(shares) > 1 else "?"
    cable_years, changes, late = (
        sum(getattr(o, name) for o in outcomes) for name in ("cable_years", "changes", "late")
    )
    left = np.concatenate([outcome.years_left for outcome in outcomes])
    return (
        f"  {rule:16}{shares.mean():>13.2f} ± {error:<4}{100 * changes / cable_years:>21.1f}"
        f"{100 * late / max(changes, 1):>14.1f}{np.median(left) if len(left) else np.nan:>10.1f}"
    )


if __name__ == "__main__":
    main()
