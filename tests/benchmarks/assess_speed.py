"""How long assessing takes, as ratios in one run: `python tests/benchmarks/assess_speed.py [--segments N]`.

Baselines: the same rows read with pandas and nothing done with them; for one segment and for pages, pools of other
sizes and the sign-in page. Ratios are of processor time, so that other work on the machine does not count.
"""

import argparse
import json
import os
import subprocess
import sys
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

# one thread, as the app's settings have it: several wait for each other by turning, and would be measured
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from big_pool import EMPTY, USAGE, open_pool
from core_speed import peak_gib
from drawn_pool import BENCH_DAYS, ON, READINGS
from spent import least, timed

TABLES = {
    "fleet_fitting": "segment_id, mat_id, position, fitted_on, removed_on",
    "fleet_cablesegment": "id, length_m, as_new_loss_db, events_before",
    "fleet_usageevent": "mat_id, event_id, state, counts_for",
    "fleet_event": "id, starts_on, ends_on",
    "inspections_measurement": "segment_id, measured_on, loss_db, frequency_mhz, temperature_c, taken",
}
# pools of these sizes are asked beside the large one; the trend of the smaller is integrated
OTHER_POOLS, TURNS = (500, 40), 3


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--segments", type=int, default=100_000)
    parser.add_argument("--bench-days", type=int, default=BENCH_DAYS)
    parser.add_argument("--json", action="store_true", help="only what grows with the pool, to compare with")
    parser.add_argument("--tables", type=Path, help="a database with empty tables, to spare the time of making them")
    options = parser.parse_args()
    # a copy of the database in the middle of a measurement would be measured too
    os.environ["HALFPOWER_DAILY_COPY"] = "no"
    with TemporaryDirectory(prefix="halfpower_bench_", ignore_cleanup_errors=True) as folder:
        path = open_pool(options.segments, Path(folder), options.bench_days, options.tables)
        if options.json:
            print_comparison()
        else:
            print_all(options, path)


def print_comparison():
    assess_whole()
    print(json.dumps(one_segment_and_pages()))


def print_all(options, path):
    segments = options.segments
    print(
        f"{segments:,} segments, {READINGS * segments:,} readings on {options.bench_days:,} bench days, "
        f"{USAGE * segments:,} usage events, SQLite; peak memory when filled {peak_gib():.2f} GiB"
    )
    print_assessment(path)
    print(f"peak memory of the assessment {peak_gib():.2f} GiB")
    print_growth(segments, path.parent / EMPTY)


def print_assessment(path):
    """Each part against the bare reading."""
    # importing is no part of reading and assessing
    import pandas  # noqa: F401

    from inspections.assessment import services, trends  # noqa: F401
    from inspections.assessment.wear_state import read_wear_state

    bare = timed(lambda: read_bare(path))
    cold = timed(assess_whole)
    warm = timed(lambda: assess_whole(ON + timedelta(1)))
    reading = timed(lambda: read_wear_state(ON))
    print(f"\n{'':50}{'wall':>8}{'processor':>13}{'ratio':>8}")
    for name, spent in (
        ("bare reading with pandas", bare),
        ("full assessment, read to written, the first", cold),
        ("the same a day later, from the fit of the day before", warm),
        ("  of that: reading and preparing columns", reading),
    ):
        print(f"{name:52}{spent.wall_s:>6.2f}{spent.cpu_s:>11.2f} s{spent.cpu_s / bare.cpu_s:>8.2f}")


def print_growth(segments, tables):
    """What should not grow with the pool, here and in smaller pools; and the sign-in page."""
    # by turns, so that a busy minute of the machine does not fall on one of them alone
    turns = [(one_segment_and_pages(), *(asked_of(size, tables) for size in OTHER_POOLS)) for _ in range(TURNS)]
    pools = [{key: min(turn[key] for turn in each) for key in each[0]} for each in zip(*turns, strict=True)]
    print(f"\n{'segments':34}" + "".join(f"{size:>12,}" for size in (segments, *OTHER_POOLS)))
    for name, key in (
        ("one segment after a reading, ms", "one_ms"),
        ("due list, first page, ms", "due_ms"),
        ("sign-in page, ms", "sign_in_ms"),
        ("queries of the due list", "due_queries"),
    ):
        print(f"{name:34}" + "".join(f"{pool[key]:>12.1f}" for pool in pools))
    ratios = (pool["due_ms"] / pool["sign_in_ms"] for pool in pools)
    print(f"{'due list against sign-in page':34}" + "".join(f"{ratio:>12.1f}" for ratio in ratios))


def read_bare(path):
    import sqlite3

    import pandas as pd

    with sqlite3.connect(path) as connection:
        return [len(pd.read_sql(f"SELECT {columns} FROM {table}", connection)) for table, columns in TABLES.items()]


def assess_whole(on=ON):
    from inspections.assessment import services

    return services.assess_pool(on)


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


def asked_of(segments, tables):
    """What grows with the pool, in a pool of that size."""
    command = [sys.executable, __file__, "--segments", str(segments), "--json", "--tables", str(tables)]
    environment = {name: value for name, value in os.environ.items() if name != "HALFPOWER_DATA"}
    printed = subprocess.run(command, env=environment, capture_output=True, text=True, check=True).stdout
    return json.loads(printed)


def least_ms(act, times):
    return 1000 * least(act, times)[0]


if __name__ == "__main__":
    main()
