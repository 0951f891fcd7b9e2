"""What benchmarks over many invented pools share: what can be asked of them, pools computed at once, and their fit."""

import argparse
from multiprocessing import get_context

import simulated_pools  # noqa: F401  it puts the app on the path

from inspections.numeric.pool_model import INSTRUMENT_SD_DB
from inspections.numeric.variance_points import with_variance_points


def options_of(description, *, seed, pools, sizes, quick, worlds=(), counted="pools of each size"):
    """ArgumentParser of `pools` of each of `sizes` in each of `worlds`, where one may be chosen; `quick`, `counted`:
    what its help says of --quick and of --pools."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--pools", type=int, default=pools, help=counted)
    parser.add_argument("--seed", type=int, default=seed)
    if worlds:
        parser.add_argument("--world", action="append", dest="worlds", choices=worlds, metavar="NAME", help="only it")
    parser.add_argument("--size", action="append", dest="sizes", type=int, choices=list(sizes), help="only it")
    parser.add_argument("--jobs", type=int, default=1, help="pools computed at once")
    parser.add_argument("--quick", action="store_true", help=f"{quick}, to see that it runs")
    return parser


def told(ask_pool, asked, jobs):
    """What `ask_pool` says of each of `asked`, in their order, so many at once."""
    if jobs == 1:
        return [ask_pool(each) for each in asked]
    with get_context("fork").Pool(jobs) as workers:
        return workers.map(ask_pool, asked, chunksize=1)


def over_points(model, readings, left_out, length_m):
    """The PoolModel over points of its variance parameters, as the app answers by it."""
    return with_variance_points(model, readings.take(~left_out), length_m, instrument_sd_db=INSTRUMENT_SD_DB)
