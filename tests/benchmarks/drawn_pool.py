"""A large invented pool as arrays: five readings of each cable, on bench days that shift, of wear that wanders."""

from dataclasses import dataclass, fields
from datetime import date

import numpy as np

ON = date(2026, 9, 30)
POSITIONS = 8
READINGS = 5
LENGTHS_M = np.linspace(0.6, 3.6, POSITIONS)
BENCH_DAYS = 60
DAYS_A_YEAR = 365.25
# bench days lie in so many days before ON; cables were first fitted in all but the last year of them
SPAN, FRESH = 5 * 365, 365
SHIFT_DB, WANDER_DB, SIGMA_DB = 0.1, 0.1, 0.07


@dataclass(frozen=True)
class DrawnPool:
    """`length_m`, `fitted` (days before ON): (segments,); `measured` (days before ON, in order of time) and `loss_db`:
    (segments, readings of each)."""

    length_m: np.ndarray
    fitted: np.ndarray
    measured: np.ndarray
    loss_db: np.ndarray

    @property
    def years(self):
        """Since first fitted, of each reading."""
        return (self.fitted[:, None] - self.measured) / DAYS_A_YEAR

    @property
    def day(self):
        """Days since 1970, of each reading."""
        return (ON - date(1970, 1, 1)).days - self.measured

    @property
    def years_now(self):
        return self.fitted / DAYS_A_YEAR

    def take(self, segments):
        """The first `segments` of them."""
        return DrawnPool(*(getattr(self, each.name)[:segments] for each in fields(self)))


def draw_pool(segments, bench_days=BENCH_DAYS, seed=1, real=True, readings=READINGS):
    """`real`: bench days shift and wear wanders; else straight lines. `readings` of each cable: five times as many
    bench days leave enough to those that are a year old."""
    rng = np.random.default_rng(seed)
    length_m = np.resize(LENGTHS_M, segments)
    bench_at = np.round(SPAN * (1 - (np.arange(bench_days) + 0.5) / bench_days)).astype(int)
    fitted = rng.integers(FRESH, SPAN, segments)
    day = _spread(rng, bench_days - np.searchsorted(bench_at[::-1], fitted), bench_days, readings)
    pool = DrawnPool(length_m, fitted, bench_at[day], np.empty(day.shape))
    level = 0.2 + 0.56 * length_m + 0.05 * rng.standard_normal(segments)
    rate = np.abs(0.1 + 0.1 * length_m + 0.06 * rng.standard_normal(segments))
    pool.loss_db[:] = level[:, None] + rate[:, None] * pool.years + SIGMA_DB * rng.standard_normal(day.shape)
    if real:
        pool.loss_db[:] += SHIFT_DB * rng.standard_normal(bench_days)[day] + _wander(rng, pool.years)
    pool.loss_db[:] = np.round(np.abs(pool.loss_db), 3)
    return pool


def _spread(rng, first, days, readings):
    """Rows of so many days, in order, no day twice, spread over those from `first` on."""
    edge = first[:, None] + (days - first)[:, None] * np.arange(readings + 1) // readings
    return edge[:, :-1] + (rng.random((len(first), readings)) * np.diff(edge, axis=1)).astype(int)


def _wander(rng, years):
    steps = np.sqrt(np.diff(years, axis=1, prepend=0.0))
    return np.cumsum(WANDER_DB * steps * rng.standard_normal(years.shape), axis=1)
