"""How long loading a pool's files takes, by stage: `python tests/benchmarks/load_speed.py [--rows N] [--postgres]`.

Each stage as a ratio to two things done in the same run with the same rows: all files read by Python's own csv module
and nothing done with the cells, and what the load stored written into the empty tables by the bare driver. Seconds of
the processor are those of this process and of the one of PostgreSQL that serves it; ratios are of these.
"""

import argparse
import csv
import io
import os
import sys
from contextlib import ExitStack
from pathlib import Path
from pkgutil import resolve_name
from tempfile import TemporaryDirectory
from unittest import mock

# one thread, as the app's settings have it: several wait for each other by turning, and would be measured
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from big_files import big_files
from big_pool import open_empty
from core_speed import peak_gib
from drawn_pool import ON
from spent import Spent
from spent import timed_with as timed_here

QUICK_ROWS = 4_000
# what each stage calls: where the name is looked up, and the name
STAGES = (
    ("files read as tables of cells", "fleet.intake.checking.read_csv"),
    ("cells read as values", "fleet.intake.checking.checked_table"),
    ("values against each other and the pool", "inspections.files.loading.check_pool_files"),
    ("rows stored", "fleet.intake.storing.store_new_rows"),
    ("days of the mats stored", "fleet.intake.storing.write_days_at_once"),
    ("ledger of the shelf brought up to date", "fleet.intake.storing.follow_whole_register"),
    ("the pool assessed", "fleet.intake.storing.wear_changed.send"),
)
# within the third of these stages lie the first two
INSIDE = {"inspections.files.loading.check_pool_files": STAGES[:2]}


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=200_000)
    parser.add_argument("--quick", action="store_true", help="few rows, to see that it runs")
    parser.add_argument("--postgres", action="store_true", help="on a cluster of its own, else SQLite")
    options = parser.parse_args()
    with ExitStack() as stack:
        folder = stack.enter_context(TemporaryDirectory(prefix="halfpower_load_", ignore_cleanup_errors=True))
        os.environ["HALFPOWER_DAILY_COPY"] = "no"
        os.environ.pop("DATABASE_URL", None)
        if options.postgres:
            os.environ["DATABASE_URL"] = stack.enter_context(_cluster())
        open_empty(Path(folder))
        measure(big_files(QUICK_ROWS if options.quick else options.rows))


def _cluster():
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
    from on_postgres import cluster

    return cluster()


def measure(contents):
    # importing is no part of loading
    import pandas  # noqa: F401

    from inspections.assessment import trends  # noqa: F401

    before_gib = peak_gib()
    # the first one finds the processor cold
    read_bare(contents)
    reading, rows = timed_with(lambda: read_bare(contents))
    stages, whole = measured_load(contents)
    peak = peak_gib()
    again = timed_with(lambda: load(contents))[0]
    stored = rows_stored()
    empty_tables()
    inserting = timed_with(lambda: insert_bare(stored))[0]
    lines = [("all files read, bare", reading), ("all rows inserted, bare", inserting), ("loaded", whole)]
    lines += [(f"  {name}", spent) for name, spent in stages] + [("loaded again, nothing new", again)]
    print_head(rows, stored, peak, before_gib)
    print_table(lines, reading, inserting)
    print(f"\n{rows / whole.wall_s:,.0f} rows a second by the clock, {rows / whole.cpu_s:,.0f} by the processor")


def print_head(rows, stored, peak, before_gib):
    from django.db import connection

    inserted = sum(len(table) for _, _, table in stored)
    print(f"{rows:,} rows of files, stored as {inserted:,} rows; {connection.vendor}")
    print(f"peak memory {peak:.2f} GiB, of that {before_gib:.2f} GiB before, with the files\n")


def print_table(lines, reading, inserting):
    print(f"{'':44}{'clock':>9}{'processor':>12}{'× reading':>11}{'× inserting':>13}")
    for name, spent in lines:
        ratios = f"{spent.cpu_s / reading.cpu_s:>11.2f}{spent.cpu_s / inserting.cpu_s:>13.2f}"
        print(f"{name:44}{spent.wall_s:>7.2f} s{spent.cpu_s:>10.2f} s{ratios}")


def load(contents):
    from inspections.files.loading import load_pool_files

    return load_pool_files(contents, by=None, on=ON)


def measured_load(contents):
    """([(stage, Spent)], Spent of all)."""
    spent = {target: Spent(0.0, 0.0) for _, target in STAGES}
    with ExitStack() as stack:
        for _, target in STAGES:
            stack.enter_context(stopwatch(target, spent))
        whole = timed_with(lambda: load(contents))[0]
    for target, inside in INSIDE.items():
        spent[target] = less(spent[target], *(spent[each] for _, each in inside))
    stages = [(name, spent[target]) for name, target in STAGES]
    return [*stages, ("written to the disk, and the rest", less(whole, *spent.values()))], whole


def stopwatch(target, spent):
    """What `target` names takes its time into `spent`."""
    owner, name = target.rsplit(".", 1)
    act = getattr(resolve_name(owner), name)

    def timed_act(*args, **kwargs):
        took, answer = timed_with(lambda: act(*args, **kwargs))
        spent[target] = Spent(*map(sum, zip(spent[target], took, strict=True)))
        return answer

    return mock.patch(target, timed_act)


def timed_with(act):
    """(Spent, what the act answers), with what the server spent on it."""
    before_s = server_s()
    spent, answer = timed_here(act)
    return Spent(spent.wall_s, spent.cpu_s + server_s() - before_s), answer


def server_s():
    """Seconds of the processor of the server's process that works for this one; 0 where there is none."""
    from django.db import connection

    if connection.vendor != "postgresql":
        return 0.0
    connection.ensure_connection()
    stat = Path(f"/proc/{connection.connection.info.backend_pid}/stat")
    # behind the name in brackets, from the third field on: the 14th and 15th are ticks of user and system
    return sum(map(int, stat.read_text().rpartition(")")[2].split()[11:13])) / os.sysconf("SC_CLK_TCK")


def less(whole, *parts):
    return Spent(*(of_all - sum(of_parts) for of_all, *of_parts in zip(whole, *parts, strict=True)))


def read_bare(contents):
    """The number of rows, headers left out."""
    tables = [list(csv.reader(io.StringIO(content.decode(), newline=""))) for content in contents.values()]
    return sum(len(table) - 1 for table in tables)


def rows_stored():
    """(table, its columns, its rows) of what the load stored, as the driver gives them, in an order to insert them."""
    from django.db import connection

    from fleet.models import Depot, Load, MatDay
    from inspections.files.sets import LAYOUTS

    stored = []
    for model in (Load, Depot, *(layout.model for layout in LAYOUTS if layout.model is not Depot), MatDay):
        names = [connection.ops.quote_name(field.column) for field in model._meta.concrete_fields]
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT {', '.join(names)} FROM {model._meta.db_table}")
            stored.append((model._meta.db_table, names, cursor.fetchall()))
    return stored


def empty_tables():
    from django.core.management import call_command
    from django.db import connection

    # inside a transaction PostgreSQL empties nothing that it has still to check
    connection.check_constraints()
    call_command("flush", interactive=False, verbosity=0, inhibit_post_migrate=True)


def insert_bare(stored):
    from django.db import connection, transaction

    with transaction.atomic():
        insert = copy_rows if connection.vendor == "postgresql" else execute_rows
        for table, names, rows in stored:
            insert(connection.connection, f"{table} ({', '.join(names)})", len(names), rows)


def execute_rows(driver, into, columns, rows):
    driver.executemany(f"INSERT INTO {into} VALUES ({', '.join('?' * columns)})", rows)


def copy_rows(driver, into, columns, rows):
    with driver.cursor() as cursor, cursor.copy(f"COPY {into} FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)


if __name__ == "__main__":
    main()
