"""How long assessing takes, as ratios in one run: `python tests/benchmarks/assess_speed.py [--segments N]`.

Baselines: (a) the same rows read with pandas and nothing done with them; (b) a straight line of statsmodels for each
segment, in loops that do less or more, and (c) its mixed model, all on a sample and scaled up; for pages, the same
pages in a pool of 500 segments and the sign-in page. Ratios are of processor time, so that other work on the machine
does not count.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import time
import warnings
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from big_pool import ON, READINGS, USAGE, open_pool

TABLES = {
    "fleet_fitting": "segment_id, mat_id, position, fitted_on, removed_on",
    "fleet_cablesegment": "id, length_m, as_new_loss_db, events_before",
    "fleet_usageevent": "mat_id, event_id, state, counts_for",
    "fleet_event": "id, starts_on, ends_on",
    "inspections_measurement": "segment_id, measured_on, loss_db, frequency_mhz, temperature_c, taken",
}
SMALL_POOL, TURNS = 500, 3
# segments in the samples that are scaled up
OLS_SAMPLE, MIXED_SAMPLE = 1000, 400
DAYS_A_YEAR, LIMIT_DB, ACCEPTED_RISK = 365.25, 3.0, 0.05


class Spent(NamedTuple):
    """Seconds by the clock on the wall, and of the processor."""

    wall_s: float
    cpu_s: float


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--segments", type=int, default=100_000)
    parser.add_argument("--json", action="store_true", help="only what grows with the pool, to compare with")
    options = parser.parse_args()
    # a copy of the database in the middle of a measurement would be measured too
    os.environ["HALFPOWER_DAILY_COPY"] = "no"
    with TemporaryDirectory(prefix="halfpower_bench_", ignore_cleanup_errors=True) as folder:
        path = open_pool(options.segments, folder)
        if options.json:
            print_comparison()
        else:
            print_all(options.segments, path)


def print_comparison():
    assess_whole()
    print(json.dumps(one_segment_and_pages()))


def print_all(segments, path):
    print(f"{segments:,} segments, {READINGS * segments:,} readings, {USAGE * segments:,} usage events, SQLite")
    whole = print_assessment(path)
    peak_gib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    print_growth(segments)
    print_references(whole)
    print(f"\npeak memory of the assessment {peak_gib:.2f} GiB")


def print_assessment(path):
    """Each part against the bare reading; returns the processor seconds of the whole."""
    # importing is no part of reading and assessing
    import pandas  # noqa: F401

    from inspections.assessment import services, trends  # noqa: F401
    from inspections.assessment.wear_state import read_wear_state

    bare = timed(lambda: read_bare(path))
    whole = timed(assess_whole)
    next_day = timed(lambda: assess_whole(ON + timedelta(1)))
    reading, state = timed_with(lambda: read_wear_state(ON))
    fitting, (records, model) = timed_with(lambda: fit(state))
    answering = timed(lambda: trends.trend_columns(state, model, records))
    print(f"\n{'':44}{'wall':>8}{'processor':>13}{'ratio':>8}")
    for name, spent in (
        ("bare reading with pandas", bare),
        ("full assessment, read to written", whole),
        ("  of that: reading and preparing columns", reading),
        ("  fitting the pool", fitting),
        ("  lines, chances, dates of all segments", answering),
        ("the same again, a day later", next_day),
    ):
        print(f"{name:44}{spent.wall_s:>8.2f}{spent.cpu_s:>11.2f} s{spent.cpu_s / bare.cpu_s:>8.2f}")
    return whole.cpu_s


def print_growth(segments):
    """What should not grow with the pool, here and in a pool of 500 segments; and the sign-in page."""
    # by turns, so that a busy minute of the machine does not fall on one of them alone
    turns = [(one_segment_and_pages(), asked_of_small_pool()) for _ in range(TURNS)]
    here, small = ({key: min(turn[key] for turn in each) for key in each[0]} for each in zip(*turns, strict=True))
    print(f"\n{'':38}{segments:>12,}{SMALL_POOL:>12,}{'ratio':>9}")
    for name, key in (
        ("one segment after a reading, ms", "one_ms"),
        ("due list, first page, ms", "due_ms"),
        ("sign-in page, ms", "sign_in_ms"),
        ("queries of the due list", "due_queries"),
    ):
        print(f"{name:38}{here[key]:>12.1f}{small[key]:>12.1f}{here[key] / small[key]:>9.2f}")
    print(f"{'due list against sign-in page':38}{here['due_ms'] / here['sign_in_ms']:>12.1f}")


def print_references(whole):
    """The numeric core and the whole assessment against statsmodels; the ratios say how many times slower that is."""
    import statsmodels.formula.api  # noqa: F401 - importing it is no part of the fits

    from inspections.assessment.wear_state import read_wear_state

    records = fit_records(read_wear_state(ON))
    core = min(timed(lambda: fit_and_answer(records)).cpu_s for _ in range(3))
    print(f"\n{'':58}{'against':>9}{'against':>9}\n{'':58}{'the core':>9}{'whole':>9}")
    print(f"{'fit, lines, chances and dates, from arrays':46}{core:9.2f} s {1:9.1f}")
    for name, sample, act in (
        ("OLS in a loop: lines", OLS_SAMPLE, lines_each_alone),
        ("OLS in a loop: lines, chances and dates", OLS_SAMPLE, answers_each_alone),
        ("the same over pandas groups", OLS_SAMPLE, answers_of_groups),
        ("OLS by formula over pandas groups: lines", OLS_SAMPLE, lines_by_formula),
        ("MixedLM: lines", MIXED_SAMPLE, fit_mixed),
    ):
        seconds = scaled_up(records, sample, act)
        print(f"{name:46}{seconds:9.1f} s {seconds / core:9.1f}{seconds / whole:9.1f}")
    print(f"scaled up from {OLS_SAMPLE:,} and {MIXED_SAMPLE:,} segments")


def read_bare(path):
    import sqlite3

    import pandas as pd

    with sqlite3.connect(path) as connection:
        return [len(pd.read_sql(f"SELECT {columns} FROM {table}", connection)) for table, columns in TABLES.items()]


def assess_whole(on=ON):
    from inspections.assessment import services

    return services.assess_pool(on)


def fit(state):
    from inspections.assessment import trends

    records = fit_records(state)
    return records, trends.fit_trend(records, state.policy)


def one_segment_and_pages():
    """Milliseconds of the processor, the least of several, and queries."""
    one = least_ms(reassess_one, 20)
    return {"one_ms": one, **ask_pages()}


def reassess_one():
    from django.db import transaction

    from inspections.assessment import services

    with transaction.atomic():
        services.reassess([17], on=ON)


def ask_pages():
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    keeper, nobody = Client(SERVER_NAME="localhost"), Client(SERVER_NAME="localhost")
    keeper.force_login(keeper_account())
    get(keeper, "/due/")  # assesses the pool for today, the first time
    with CaptureQueriesContext(connection) as captured:
        get(keeper, "/due/")
        queries = len(captured)
    return {
        "due_ms": least_ms(lambda: get(keeper, "/due/"), 20),
        "due_queries": queries,
        "sign_in_ms": least_ms(lambda: get(nobody, "/sign-in/"), 20),
    }


def get(client, address):
    answer = client.get(address)
    if answer.status_code != 200:
        raise RuntimeError(f"{address} answered {answer.status_code}")


def keeper_account():
    from django.contrib.auth import get_user_model

    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
    from factories import make_person

    return get_user_model().objects.filter(username="keeper").first() or make_person("keeper", role="keeper")


def asked_of_small_pool():
    command = [sys.executable, __file__, "--segments", str(SMALL_POOL), "--json"]
    environment = {name: value for name, value in os.environ.items() if name != "HALFPOWER_DATA"}
    printed = subprocess.run(command, env=environment, capture_output=True, text=True, check=True).stdout
    return json.loads(printed)


def fit_records(state):
    from inspections.assessment import trends
    from inspections.numeric.words import Clock

    return trends.fit_records(state, Clock.YEARS)


def fit_and_answer(records):
    """The numeric core alone: fit the pool, and the line, chance and dates of every segment."""
    from inspections.numeric.pool_model import fit_pool_model
    from inspections.numeric.segment_trends import Segments, assess_segments

    model = fit_pool_model(records.readings, records.length_m)
    return assess_segments(model, records.readings, Segments.of(records.length_m, years_now(records)))


def years_now(records):
    import numpy as np

    return (np.datetime64(ON) - records.first_on).astype(float) / DAYS_A_YEAR


def scaled_up(records, sample, act):
    """Processor seconds that `act` would take for all segments, from the first `sample` of them."""
    segments = len(records.length_m)
    wanted = records.readings.segment < sample
    readings = [getattr(records.readings, name)[wanted] for name in ("segment", "x", "loss_db")]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what it says of its convergence is not measured here
        seconds = min(timed(lambda: act(*readings, records)).cpu_s for _ in range(2))
    return seconds * segments / min(sample, segments)


def lines_each_alone(segment, x, loss_db, records):
    """As bare as such a loop can be: arrays in, line and covariance out."""
    return [(line.params, line.cov_params()) for line in lines_of(segment, x, loss_db)]


def answers_each_alone(segment, x, loss_db, records):
    """What the assessment answers, from each line alone: the chance today, the early and the expected crossing."""
    now = years_now(records)
    return [answer(line, [[1.0, at]]) for line, at in zip(lines_of(segment, x, loss_db), now, strict=False)]


def answers_of_groups(segment, x, loss_db, records):
    """The same as it is usually written, with a table that pandas takes apart."""
    import pandas as pd
    from statsmodels.api import OLS, add_constant

    now, table = years_now(records), pd.DataFrame({"segment": segment, "x": x, "loss_db": loss_db})
    return [
        answer(OLS(group.loss_db, add_constant(group.x)).fit(), [[1.0, now[segment]]])
        for segment, group in table.groupby("segment")
    ]


def lines_by_formula(segment, x, loss_db, records):
    """As the first page of statsmodels' handbook fits a line (from memory)."""
    import pandas as pd
    from statsmodels.formula.api import ols

    table = pd.DataFrame({"segment": segment, "x": x, "loss_db": loss_db})
    lines = (ols("loss_db ~ x", data=group).fit() for _, group in table.groupby("segment"))
    return [(line.params, line.cov_params()) for line in lines]


def lines_of(segment, x, loss_db):
    import numpy as np
    from statsmodels.api import OLS

    starts = np.flatnonzero(np.diff(segment, prepend=-1))
    pairs = zip(np.split(x, starts[1:]), np.split(loss_db, starts[1:]), strict=True)
    return [OLS(ys, np.column_stack([np.ones_like(xs), xs])).fit() for xs, ys in pairs]


def answer(line, now):
    """(chance over the limit now, early, expected) of a fitted line: t for the chance, Fieller's limit for the day."""
    import numpy as np
    from scipy.stats import t

    at, (a, b), c = line.get_prediction(now), np.asarray(line.params), np.asarray(line.cov_params())
    chance = t.sf((LIMIT_DB - at.predicted_mean[0]) / at.se_mean[0], line.df_resid)
    q, short = t.ppf(1 - ACCEPTED_RISK, line.df_resid) ** 2, a - LIMIT_DB
    second, first, none = b**2 - q * c[1, 1], short * b - q * c[0, 1], short**2 - q * c[0, 0]
    early = (-first - np.sqrt(first**2 - second * none)) / second
    return chance, early, -short / b


def fit_mixed(segment, x, loss_db, records):
    import numpy as np
    from statsmodels.api import MixedLM

    lengths, one = records.length_m[segment], np.ones_like(x)
    fixed, random = np.column_stack([one, lengths, x, lengths * x]), np.column_stack([one, x])
    fitted = MixedLM(loss_db, fixed, groups=segment, exog_re=random).fit(reml=True)
    return fitted.random_effects, fitted.random_effects_cov


def least_ms(act, times):
    return 1000 * min(timed(act).cpu_s for _ in range(times))


def timed(act):
    return timed_with(act)[0]


def timed_with(act):
    wall, cpu = time.perf_counter(), time.process_time()
    answer = act()
    return Spent(time.perf_counter() - wall, time.process_time() - cpu), answer


if __name__ == "__main__":
    main()
