"""How long the numeric core takes, from arrays: `python tests/benchmarks/core_speed.py [--segments N]`.

Cold: nothing is known of the pool. Warm: it starts from the model of the bench day before. Beside it, what statsmodels
takes for a straight line of each segment, in loops that do less or more, and for its mixed model, on a sample and
scaled up. Processor time, so that other work on the machine does not count.
"""

import argparse
import os
import resource
import sys
import warnings
from pathlib import Path

# one thread, as the app's settings have it: several wait for each other by turning, and would be measured
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from drawn_pool import BENCH_DAYS, READINGS, draw_pool
from spent import least

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

MANY_DAYS = 1000
# cables read so often, on so many bench days, are one of so many
OFTEN, OFTEN_DAYS = 40, 240
OFTEN_SHARE, OFTEN_SHARE_OF_SMALL = 50, 700
# segments in the samples that are scaled up
OLS_SAMPLE, MIXED_SAMPLE = 1000, 400
LIMIT_DB, ACCEPTED_RISK = 3.0, 0.05


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--segments", type=int, default=100_000)
    options = parser.parse_args()
    print(f"{options.segments:,} segments, {READINGS * options.segments:,} readings")
    cold_s = print_core(options.segments)
    print(f"peak memory so far {peak_gib():.2f} GiB")
    print_references(options.segments, cold_s)


def peak_gib():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20


def print_core(segments):
    """Seconds of each part; returns those of fit and dates, cold, of the first pool."""
    print(f"\n{'seconds':30}{'fit, cold':>11}{'warm':>8}{'dates':>8}{'both, cold':>12}{'warm':>8}{'over now':>10}")
    seconds = print_pool(f"{BENCH_DAYS} bench days", draw_pool(segments))
    print_pool(f"{MANY_DAYS:,} bench days", draw_pool(segments, MANY_DAYS))
    print_pool(f"{BENCH_DAYS} bench days, straight lines", draw_pool(segments, real=False))
    # cables read often, in a large pool and in one whose parameters are integrated over
    for part in (OFTEN_SHARE, OFTEN_SHARE_OF_SMALL):
        often = max(segments // part, 10)
        print_pool(f"{often:,} cables read {OFTEN} times", draw_pool(often, OFTEN_DAYS, readings=OFTEN))
    return seconds


def print_pool(name, pool):
    """Seconds of fit and dates, cold. The optimum of straight lines without shifts lies at the boundary."""
    from inspections.numeric.pool_model import fit_pool_model
    from inspections.numeric.segment_trends import assess_segments

    readings, asked = fit_readings(pool), asked_of(pool)
    former = fit_pool_model(fit_readings(pool, pool.measured > pool.measured.min()), pool.length_m).model
    cold_s, fitted = least(lambda: fit_pool_model(readings, pool.length_m), 2)
    warm_s, _ = least(lambda: fit_pool_model(readings, pool.length_m, start=former), 2)
    dates_s, trends = least(lambda: assess_segments(fitted.model, readings, asked), 2)
    over = np.mean(trends.chance_over > 1 - ACCEPTED_RISK)
    print(
        f"{name:30}{cold_s:>11.2f}{warm_s:>8.2f}{dates_s:>8.2f}{cold_s + dates_s:>12.2f}{warm_s + dates_s:>8.2f}"
        f"{over:>10.0%}"
    )
    return cold_s + dates_s


def fit_readings(pool, wanted=None):
    from inspections.numeric.bench_day_keys import bench_day_key
    from inspections.numeric.fit_readings import FitReadings

    wanted = np.ones(pool.measured.shape, bool) if wanted is None else wanted
    segment = np.nonzero(wanted)[0]
    return FitReadings.of(segment, pool.years[wanted], pool.loss_db[wanted], day=bench_day_key(pool.day[wanted], 0))


def asked_of(pool):
    from inspections.numeric.segment_trends import Segments

    return Segments.of(pool.length_m, pool.years_now, limit_db=LIMIT_DB, accepted_risk=ACCEPTED_RISK)


def print_references(segments, core_s):
    """The ratios say how many times slower than the core each is."""
    import statsmodels.formula.api  # noqa: F401 - importing it is no part of the fits

    pool = draw_pool(max(OLS_SAMPLE, MIXED_SAMPLE))
    print(f"\n{'':46}{'':11}{'times the core':>16}")
    print(f"{'fit and dates, cold':46}{core_s:9.2f} s{1:16.1f}")
    for name, sample, act in (
        ("OLS in a loop: lines", OLS_SAMPLE, lines_each_alone),
        ("OLS in a loop: lines, chances and dates", OLS_SAMPLE, answers_each_alone),
        ("the same over pandas groups", OLS_SAMPLE, answers_of_groups),
        ("OLS by formula over pandas groups: lines", OLS_SAMPLE, lines_by_formula),
        ("MixedLM: lines", MIXED_SAMPLE, fit_mixed),
    ):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what it says of its convergence is not measured here
            seconds, _ = least(lambda act=act, sample=sample: act(pool.take(sample)), 2)
        seconds *= segments / sample
        print(f"{name:46}{seconds:9.1f} s{seconds / core_s:16.1f}")
    print(f"scaled up from {OLS_SAMPLE:,} and {MIXED_SAMPLE:,} segments")


def lines_each_alone(pool):
    """As bare as such a loop can be: arrays in, line and covariance out."""
    return [(line.params, line.cov_params()) for line in lines_of(pool)]


def answers_each_alone(pool):
    """What the assessment answers, from each line alone: the chance today, the early and the expected crossing."""
    return [answer(line, [[1.0, at]]) for line, at in zip(lines_of(pool), pool.years_now, strict=True)]


def answers_of_groups(pool):
    """The same as it is usually written, with a table that pandas takes apart."""
    from statsmodels.api import OLS, add_constant

    return [
        answer(OLS(group.loss_db, add_constant(group.x)).fit(), [[1.0, pool.years_now[segment]]])
        for segment, group in table_of(pool).groupby("segment")
    ]


def lines_by_formula(pool):
    """As the first page of statsmodels' handbook fits a line (from memory)."""
    from statsmodels.formula.api import ols

    lines = (ols("loss_db ~ x", data=group).fit() for _, group in table_of(pool).groupby("segment"))
    return [(line.params, line.cov_params()) for line in lines]


def table_of(pool):
    import pandas as pd

    segment = np.repeat(np.arange(len(pool.length_m)), READINGS)
    return pd.DataFrame({"segment": segment, "x": pool.years.ravel(), "loss_db": pool.loss_db.ravel()})


def lines_of(pool):
    from statsmodels.api import OLS

    pairs = zip(pool.years, pool.loss_db, strict=True)
    return [OLS(loss_db, np.column_stack([np.ones_like(x), x])).fit() for x, loss_db in pairs]


def answer(line, now):
    """(chance over the limit now, early, expected) of a fitted line: t for the chance, Fieller's limit for the day."""
    from scipy.stats import t

    at, (a, b), c = line.get_prediction(now), np.asarray(line.params), np.asarray(line.cov_params())
    chance = t.sf((LIMIT_DB - at.predicted_mean[0]) / at.se_mean[0], line.df_resid)
    q, short = t.ppf(1 - ACCEPTED_RISK, line.df_resid) ** 2, a - LIMIT_DB
    second, first, none = b**2 - q * c[1, 1], short * b - q * c[0, 1], short**2 - q * c[0, 0]
    early = (-first - np.sqrt(first**2 - second * none)) / second
    return chance, early, -short / b


def fit_mixed(pool):
    """Straight lines with a deviation of each cable: neither bench days nor wander."""
    from statsmodels.api import MixedLM

    segment, x = np.repeat(np.arange(len(pool.length_m)), READINGS), pool.years.ravel()
    lengths, one = pool.length_m[segment], np.ones_like(x)
    fixed, random = np.column_stack([one, lengths, x, lengths * x]), np.column_stack([one, x])
    fitted = MixedLM(pool.loss_db.ravel(), fixed, groups=segment, exog_re=random).fit(reml=True)
    return fitted.random_effects, fitted.random_effects_cov


if __name__ == "__main__":
    main()
