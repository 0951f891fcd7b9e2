"""A small pool that wears along lines, read on bench days that all its cables share."""

from datetime import date, timedelta

import numpy as np
from factories import make_mat, make_reading

from inspections.models import Assessment

FITTED_ON = date(2024, 10, 1)
# after that, of each bench day
MONTHS = (3, 8, 13, 18, 23)


def bench_day(month):
    return FITTED_ON + timedelta(int(month * 30.4))


def read(segment, losses_db, months=MONTHS, **values):
    """Read on the bench days of the pool."""
    for month, loss_db in zip(months, losses_db, strict=True):
        make_reading(segment, loss_db, bench_day(month), **values)


def make_pool(mats=3, rate_db=0.3, seed=4, depot=None, months=MONTHS):
    """Mats of four segments that wear along lines of their own, measured every five months."""
    rng = np.random.default_rng(seed)
    made = [make_mat(fitted=True, fitted_on=FITTED_ON, depot=depot) for _ in range(mats)]
    for mat in made:
        for fitting in mat.fittings.all():
            level = 0.3 + 0.5 * fitting.segment.length_m + 0.03 * rng.standard_normal()
            rate = rate_db * fitting.segment.length_m * (1 + 0.1 * rng.standard_normal())
            for month in months:
                loss_db = level + rate * month / 12 + 0.03 * rng.standard_normal()
                make_reading(fitting.segment, round(float(loss_db), 3), bench_day(month))
    return made


def row_of(segment):
    return Assessment.objects.get(segment=segment)
