"""How the cables of an invented pool are read: on bench days, by benches that shift, drift, stand apart or mistype."""

from dataclasses import dataclass, field

import numpy as np
from simulated_pools import Wear

# the pool's records reach back so far; cables were first fitted in all but the last of these years
RECORD_YEARS = 6
BENCH_DAYS_A_YEAR = 3
MOST_READINGS = 6
# after so many years little is left of where an instrument's drift stood
DRIFT_YEARS = 1.0
MISTYPED_BY_DB = 1.0


@dataclass(frozen=True)
class Bench:
    """What benches do to readings; standard deviations in dB.

    `shift`: what one bench day adds to all its readings; `drift`: the same, but wandering from day to day; `offset`: of
    each of two benches for good, where cables stay at theirs; `missing_years`: calendar years without a bench day;
    `mistyped`: share of the readings that are wrong by 1 dB or another cable's.
    """

    shift: float = 0.0
    drift: float = 0.0
    offset: float = 0.0
    missing_years: int = 0
    mistyped: float = 0.0

    @property
    def benches(self):
        return 2 if self.offset else 1

    def __str__(self):
        return "; ".join(
            filter(
                None,
                (
                    self.shift and f"a bench day ± {self.shift:g} dB",
                    self.drift and f"the instrument drifts by ± {self.drift:g} dB within {DRIFT_YEARS:g} year",
                    self.offset and f"two benches ± {self.offset:g} dB for good, each cable stays at its own",
                    self.missing_years and f"no bench day in {self.missing_years} of the {RECORD_YEARS} years",
                    self.mistyped
                    and f"{self.mistyped:.0%} of the readings mistyped by {MISTYPED_BY_DB:g} dB or of another cable",
                ),
            )
        )


@dataclass(frozen=True)
class World:
    """A kind of pool: how it wears, and how it is read."""

    wear: Wear = field(default_factory=Wear)
    bench: Bench = field(default_factory=Bench)

    def __str__(self):
        return "\n  ".join(filter(None, (str(self.wear), str(self.bench))))


def read_on_bench_days(rng, sigma, bench, paths, fitted_at):
    """One to six readings of each cable, on bench days picked at random from those since it was fitted: its row, years
    since it was fitted, dB, and the number of its day and of its bench; arrays of shape (readings,)."""
    day_at = _bench_days(rng, bench)
    order = rng.random((len(fitted_at), len(day_at)))
    order[day_at < fitted_at[:, None]] = np.inf
    picked = np.argsort(np.argsort(order, axis=1), axis=1) < rng.integers(1, MOST_READINGS + 1, len(fitted_at))[:, None]
    segment, day = np.nonzero(picked & np.isfinite(order))
    years, at_bench = day_at[day] - fitted_at[segment], segment % bench.benches
    shift, noise = _shifts(rng, bench, day_at), sigma * rng.standard_normal(len(segment))
    loss_db = paths.take(segment).at(years) + shift[at_bench, day] + noise
    loss_db = _mistyped(rng, bench.mistyped, day, loss_db)
    return segment, years, loss_db, day, at_bench


def _bench_days(rng, bench):
    """Years on the calendar of the records, in order."""
    days = np.arange(RECORD_YEARS * BENCH_DAYS_A_YEAR)
    at = (days + rng.uniform(0.5, 1.0, len(days))) / BENCH_DAYS_A_YEAR
    if bench.missing_years:
        at = at[~np.isin(at.astype(int), rng.choice(RECORD_YEARS, bench.missing_years, replace=False))]
    return at


def _shifts(rng, bench, day_at):
    """dB that a day adds at a bench, (benches, days)."""
    shift = np.tile(bench.shift * rng.standard_normal(len(day_at)), (bench.benches, 1))
    if bench.drift:
        shift = shift + bench.drift * _drift(rng, day_at)
    if bench.offset:
        shift = shift + bench.offset * rng.standard_normal((bench.benches, 1))
    return shift


def _drift(rng, day_at):
    """A stationary first-order path of standard deviation 1 over the days."""
    kept, fresh = np.exp(-np.diff(day_at) / DRIFT_YEARS), rng.standard_normal(len(day_at))
    path = fresh.copy()
    for k, share in enumerate(kept, 1):
        path[k] = share * path[k - 1] + np.sqrt(1 - share**2) * fresh[k]
    return path


def _mistyped(rng, share, day, loss_db):
    """Half of what is mistyped by 1 dB, down only where a loss is left; half what another cable read on that day."""
    if not share:
        return loss_db
    draw, sign = rng.random(len(day)), np.where(loss_db > 1.5 * MISTYPED_BY_DB, rng.choice((-1, 1), len(day)), 1)
    typed = np.where(draw < share / 2, loss_db + sign * MISTYPED_BY_DB, loss_db)
    for reading in np.flatnonzero((draw >= share / 2) & (draw < share)):
        typed[reading] = loss_db[rng.choice(np.flatnonzero(day == day[reading]))]
    return typed
