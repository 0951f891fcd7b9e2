"""How long assessing takes, as ratios in one run: `python tests/benchmarks/assess_speed.py [--segments N]`.

Baseline (a): the same rows read with pandas and nothing done with them.
"""

import argparse
import resource
import time

from big_pool import ON, open_pool

TABLES = {
    "fleet_fitting": "segment_id, mat_id, position, fitted_on, removed_on",
    "fleet_cablesegment": "id, length_m, as_new_loss_db, events_before",
    "fleet_usageevent": "mat_id, event_id, state, counts_for",
    "fleet_event": "id, starts_on, ends_on",
    "inspections_measurement": "segment_id, measured_on, loss_db, frequency_mhz, temperature_c, taken",
}


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--segments", type=int, default=100_000)
    segments = parser.parse_args().segments
    path = open_pool(segments)
    bare = timed(lambda: read_bare(path))

    from inspections.numeric.segment_trends import assess_segments
    from inspections.services import scheduling, trends
    from inspections.services.wear_state import read_wear_state

    whole = timed(lambda: scheduling.assess_pool(ON))
    state_s, state = timed_with(lambda: read_wear_state(ON))
    fit_s, model = timed_with(lambda: trends.fit_trend(state))
    del assess_segments
    columns_s = timed(lambda: trends.trend_columns(state, model))
    one = min(timed(lambda: reassess_one(scheduling)) for _ in range(10))
    print(f"{segments:,} segments, {5 * segments:,} readings, {10 * segments:,} usage events, SQLite")
    print(f"{'bare reading with pandas':44}{bare:8.2f} s   1.00")
    for name, seconds in (
        ("full assessment, read to written", whole),
        ("  of that: reading and preparing columns", state_s),
        ("  fitting the pool", fit_s),
        ("  lines, chances, dates of all segments", columns_s),
    ):
        print(f"{name:44}{seconds:8.2f} s   {seconds / bare:.2f}")
    print(f"{'one segment after a reading':44}{1000 * one:8.1f} ms")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20:.2f} GiB")


def read_bare(path):
    import sqlite3

    import pandas as pd

    with sqlite3.connect(path) as connection:
        return [len(pd.read_sql(f"SELECT {columns} FROM {table}", connection)) for table, columns in TABLES.items()]


def reassess_one(scheduling):
    from django.db import transaction

    with transaction.atomic():
        scheduling.reassess([17], on=ON)


def timed(act):
    return timed_with(act)[0]


def timed_with(act):
    start = time.perf_counter()
    answer = act()
    return time.perf_counter() - start, answer


if __name__ == "__main__":
    main()
