"""Can the trend's uncertainty be trusted? `python tests/benchmarks/coverage.py [--pools N] [--seed N] [--quick]`

Pools whose true crossing is known are read as a bench would read them, fitted and asked through the app's own numeric
core. The true crossing lies inside the stated 90 % interval when the chance stated for that very time lies between 5 %
and 95 %. "Half used": the true crossing comes only after twice the time to the date.
"""

import argparse
from dataclasses import dataclass, fields

import numpy as np
from simulated_pools import LIMIT_DB, Wear, draw_paths, generator

from inspections.numeric.pool_model import FitReadings, fit_pool_model
from inspections.numeric.segment_trends import Segments, assess_segments

SEED = 20260930
# the pool's records reach back so far; cables were first fitted in all but the last of these years
RECORD_YEARS = 6
BENCH_DAYS_A_YEAR = 3
MOST_READINGS = 6
# calibration asks each cable's chance for a day drawn from so many years after the records
AHEAD_YEARS = 10.0
AGE_RULE_YEARS = 3.0
RISK = 0.05

WEARS = {
    "straight lines, eight lengths": Wear(),
    "straight lines, one length": Wear(
        level=(1.2, 0), rate=(0.15, 0), sd_level=0.3, sd_rate=0.06, sigma=0.05, lengths_m=(1.0,)
    ),
    "bench days shifted by 0.1 dB": Wear(bench_shift=0.1),
    "bench days shifted by 0.2 dB": Wear(bench_shift=0.2),
    "jumps at connectors": Wear(jumps_a_year=0.05),
    "dirt and cleaning": Wear(dirt_a_year=0.1),
    "shift of 0.1 dB, jumps and dirt": Wear(bench_shift=0.1, jumps_a_year=0.05, dirt_a_year=0.1),
}
# segments in a pool, and how many such pools for each 100 asked for
SIZES = {8: 100, 15: 67, 30: 50, 100: 200, 20_000: 15}
QUICK_SIZES = {8: 100, 100: 100}


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
        return cls(*(np.concatenate([getattr(part, field.name) for part in parts]) for field in fields(cls)))


def main():
    options = parse_options()
    sizes = QUICK_SIZES if options.quick else SIZES
    print_parameters(options)
    for name, wear in WEARS.items():
        answers = {size: ask_pools(options, name, wear, size, share) for size, share in sizes.items()}
        print(f"\n{name}\n  {wear}")
        print_coverage(answers)
        print_calibration(answers)


def parse_options():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pools", type=int, default=60, help="pools of 8 segments; of the others in proportion")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--quick", action="store_true", help="a few small pools, to see that it runs")
    options = parser.parse_args()
    options.pools = 2 if options.quick else options.pools
    return options


def ask_pools(options, name, wear, size, share):
    pools = max(1, round(options.pools * share / 100))
    return Answers.together([ask_pool(generator(options.seed, name, size, k), wear, size, k) for k in range(pools)])


def ask_pool(rng, wear, segments, pool):
    length_m = wear.length_m(segments)
    paths = draw_paths(rng, wear, length_m)
    fitted_at = rng.uniform(0, RECORD_YEARS - 1, segments)
    readings = read_on_bench_days(rng, wear, paths, fitted_at)
    crossing, asked = paths.crossing(), RECORD_YEARS - fitted_at + rng.uniform(0, AHEAD_YEARS, segments)
    model = fit_pool_model(readings, length_m)
    trends = assess_segments(model, readings, Segments.of(length_m, asked, limit_db=LIMIT_DB, accepted_risk=RISK))
    # no dates are wanted of this second question: a horizon of nothing spares the search for them
    at_crossing = assess_segments(model, readings, Segments.of(length_m, crossing, limit_db=LIMIT_DB, horizon=0.0))
    return Answers(
        pool=np.full(segments, pool),
        dated=~np.isnan(trends.early),
        chance_at_crossing=at_crossing.chance_over,
        early=trends.early,
        crossing=crossing,
        chance_asked=trends.chance_over,
        over_asked=crossing <= asked,
    )


def read_on_bench_days(rng, wear, paths, fitted_at):
    """One to six readings of each cable, on bench days picked at random from those since it was fitted."""
    days = np.arange(RECORD_YEARS * BENCH_DAYS_A_YEAR)
    day_at = (days + rng.uniform(0.5, 1.0, len(days))) / BENCH_DAYS_A_YEAR
    order = rng.random((len(fitted_at), len(days)))
    order[day_at < fitted_at[:, None]] = np.inf
    picked = np.argsort(np.argsort(order, axis=1), axis=1) < rng.integers(1, MOST_READINGS + 1, len(fitted_at))[:, None]
    segment, day = np.nonzero(picked & np.isfinite(order))
    years = day_at[day] - fitted_at[segment]
    shift = wear.bench_shift * rng.standard_normal(len(days))
    noise = wear.sigma * rng.standard_normal(len(segment))
    return FitReadings.of(segment, years, paths.take(segment).at(years) + shift[day] + noise)


def print_parameters(options):
    print(
        f"Seed {options.seed}; {options.pools} pools of 8 segments, the others in proportion. Limit {LIMIT_DB} dB, "
        f"accepted risk {RISK:.0%}.\n"
        f"Records of {RECORD_YEARS} years, {BENCH_DAYS_A_YEAR} bench days a year, one to {MOST_READINGS} readings of "
        "each cable.\n"
        "Shares in percent, of the cables with a date; ± is the standard error from pool to pool.\n"
        f"Calibration asks for the chance on a day drawn from the {AHEAD_YEARS:g} years after the records."
    )


HEADINGS = (
    f"  {'':>20}{'in the stated':>19}{'over before':>13}{'after the':>11}{'half':>7}   three years:\n"
    f"  {'segments':>8}{'pools':>6}{'dated':>6}{'90 % interval':>19}{'early date':>13}{'95 % point':>11}{'used':>7}"
    f"{'over':>8}{'half used':>11}"
)


def print_coverage(answers):
    print(HEADINGS)
    for size, said in answers.items():
        print(coverage_row(size, said))


def coverage_row(size, said):
    dated = said.dated
    chance, crossing, early = said.chance_at_crossing[dated], said.crossing[dated], said.early[dated]
    inside = (chance >= RISK) & (chance <= 1 - RISK)
    return (
        f"  {size:>8}{len(np.unique(said.pool)):>6}{percent(dated):>6}{percent(inside):>12} ± "
        f"{standard_error(inside, said.pool[dated]):<4}{percent(chance < RISK):>13}{percent(chance > 1 - RISK):>11}"
        f"{percent(crossing > 2 * early):>7}"
        f"{percent(said.crossing <= AGE_RULE_YEARS):>8}{percent(said.crossing > 2 * AGE_RULE_YEARS):>11}"
    )


def percent(share):
    return f"{100 * np.mean(share):.1f}"


def standard_error(hit, pool):
    """Of the share of hits, in percent: pools are drawn independently, the cables of one are not."""
    hits, count = np.bincount(pool, hit), np.bincount(pool)
    if len(count) < 2:
        return "?"
    scatter = np.std(hits - count * hits.sum() / count.sum(), ddof=1)
    return f"{100 * scatter * np.sqrt(len(count)) / count.sum():.1f}"


def print_calibration(answers):
    print("  chance said -> share over, and cables asked, by tenth of the chance")
    print(f"  {'tenth':>9}" + "".join(f"{size:>22,}" for size in answers))
    for tenth in range(10):
        cells = "".join(f"{calibration_cell(said, tenth):>22}" for said in answers.values())
        print(f"  {tenth / 10:>4.1f}-{(tenth + 1) / 10:.1f} {cells}")


def calibration_cell(said, tenth):
    inside = said.dated & (np.minimum(np.floor(said.chance_asked * 10), 9) == tenth)
    if not inside.any():
        return "-"
    return f"{said.chance_asked[inside].mean():.3f} -> {said.over_asked[inside].mean():.3f} {inside.sum():>6}"


if __name__ == "__main__":
    main()
