"""Small pools drawn at random: read rarely and often, on shared bench days and alone, some segments never."""

from functools import cache
from typing import NamedTuple

import numpy as np
from hypothesis import strategies as some

from inspections.numeric.fit_readings import ALONE, FitReadings
from inspections.numeric.pool_model import fit_pool_model


class SmallPool(NamedTuple):
    readings: FitReadings
    length_m: np.ndarray

    def dense_parts(self):
        """(segment, x, y, length_m) as `DenseTrend` takes them."""
        readings = self.readings
        return readings.segment, readings.x, readings.loss_db, self.length_m


def draw_pool(seed, segments, most_readings, days, alone_share=0.3, lengths=(0.6, 1.1, 2.1)):
    """SmallPool: fitted on any day of three years, read on some of `days` bench days over five, or alone.

    Sd of level 0.1 dB, of rate 0.05 dB a year, of a bench day 0.1 dB, of a reading 0.06 dB; wander 0.08 dB in a year.
    """
    rng = np.random.default_rng(seed)
    bench, shift = np.sort(rng.uniform(0.2, 5, days)), 0.1 * rng.standard_normal(days)
    length_m, rows = rng.choice(lengths, segments), []
    for i in range(segments):
        fitted = rng.uniform(-2, 1)
        level = 0.2 + 0.5 * length_m[i] + 0.1 * rng.standard_normal()
        rate = 0.1 + 0.1 * length_m[i] + 0.05 * rng.standard_normal()
        open_days = np.flatnonzero(bench > fitted)
        count = min(rng.integers(0, most_readings + 1), len(open_days))
        wander, last = 0.0, 0.0
        for day in np.sort(rng.choice(open_days, count, replace=False)):
            alone = rng.random() < alone_share
            t = float(np.round(bench[day] - fitted, 3))
            wander, last = wander + 0.08 * np.sqrt(max(t - last, 0.0)) * rng.standard_normal(), t
            set_up = 0.1 * rng.standard_normal() if alone else shift[day]
            y = level + rate * t + wander + set_up + 0.06 * rng.standard_normal()
            rows.append((i, t, np.round(y, 4), ALONE if alone else 100 * day + 7))
    segment, x, y, day = (np.array(column) for column in zip(*rows, strict=True)) if rows else [np.zeros(0)] * 4
    return SmallPool(FitReadings.of(segment.astype(int), x, y, day=day.astype(np.int64)), length_m)


@cache
def fitted_pool(segments, seed=7):
    """PoolModel of such a pool; below 150 segments it has many points of its parameters, else one."""
    pool = draw_pool(seed, segments, 6, 12)
    return fit_pool_model(pool.readings, pool.length_m).model


@some.composite
def small_pools(draw, least_segments=8, most_segments=14):
    """Hypothesis strategy of `draw_pool`; in some of them cables are read more often than is written out."""
    most_readings, days = draw(some.sampled_from([(3, 4), (4, 6), (6, 8), (14, 18)]))
    return draw_pool(
        seed=draw(some.integers(0, 2**32 - 1)),
        segments=draw(some.integers(least_segments, most_segments)),
        most_readings=most_readings,
        days=days,
        alone_share=draw(some.sampled_from([0.0, 0.3, 1.0])),
    )
