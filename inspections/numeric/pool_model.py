"""The pooled loss trend as a service uses it: fit the pool once, then answer for all segments, or for one at once.

The PoolModel that `fit_pool_model` returns can be stored (`as_json`, `from_json`); `segment_trends.assess_segments`
answers from it, with the readings of all segments or of a single one.
"""

from base64 import b64decode, b64encode
from dataclasses import asdict, dataclass
from functools import partial
from typing import NamedTuple

import numpy as np

from .departures import departed_in
from .mixed_equations import NoFit, told_as_no_fit
from .pool_fit import PoolFit, fit_pool
from .pool_points import PoolPoints
from .pool_readings import NO_NOISE, lengths_can_be_told_apart, on_two_days, own_lines_have_no_noise
from .small_pools import INTEGRATE_BELOW_SEGMENTS, integrate_parameters
from .wear_model import Variances
from .words import Clock, NoModelReason

SEGMENTS_NEEDED = 5
# how often readings that depart are left out and the rest fitted again
ROUNDS = 3
# Standard uncertainty of a reading where its instrument says nothing (policy default).
INSTRUMENT_SD_DB = 0.15


class BenchDayShifts(NamedTuple):
    """Bench days with a shift of their own, in order of key: readings, shift and its standard deviation (dB)."""

    key: np.ndarray
    readings: np.ndarray
    shift_db: np.ndarray
    sd_db: np.ndarray


@dataclass(frozen=True)
class PoolModel:
    """A fitted pool to be stored. `fit` is None where there is none, and `no_model_reason` says why.

    `points`: what segments are answered from: the optimum, or weighted parameters of a small pool. `readings` and
    `segments` count what came in, those left out included.
    """

    clock: str
    segments: int
    readings: int
    fit: PoolFit | None
    points: PoolPoints | None
    no_model_reason: NoModelReason | None

    @property
    def integrated(self):
        """The uncertainty of the variance parameters is integrated over."""
        return self.points is not None and len(self.points.weight) > 1

    @property
    def days(self):
        if self.points is None:
            return BenchDayShifts(*(np.empty(0, kind) for kind in (np.int64, np.int64, float, float)))
        return BenchDayShifts(self.points.keys, self.points.day_readings, *self.points.shifts())

    def as_json(self):
        """Plain dictionaries, lists and numbers; `from_json` gives an equal model back."""
        return _plain(asdict(self))

    @classmethod
    def from_json(cls, stored):
        fit, points, reason = stored["fit"], stored["points"], stored["no_model_reason"]
        return cls(
            **{
                **stored,
                "fit": fit and PoolFit(**_arrays(fit)),
                "points": points and PoolPoints(**_arrays(points)),
                "no_model_reason": reason and NoModelReason(reason),
            }
        )


def _plain(value):
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return {"shape": value.shape, "kind": value.dtype.str, "base64": b64encode(value.tobytes()).decode()}
    return value.item() if isinstance(value, np.generic) else value


def _arrays(stored):
    return {key: _array(value) if isinstance(value, dict) else value for key, value in stored.items()}


def _array(stored):
    return np.frombuffer(b64decode(stored["base64"]), stored["kind"]).reshape(stored["shape"])


class FittedPool(NamedTuple):
    """A PoolModel, and which of the readings (mask) depart and are left out of every line.

    A high last reading that departs has no part in the model either, but keeps its own line: that cable may be damaged,
    and the others are not.
    """

    model: PoolModel
    left_out: np.ndarray


def fit_pool_model(
    readings, length_m, *, clock=Clock.YEARS, instrument_sd_db=INSTRUMENT_SD_DB, start=None, pieces=None
):
    """FittedPool of all FitReadings that belong in the fit; `length_m` of every segment, shape (segments,).

    `start`: the PoolModel of a former fit, from which to start; `pieces`: PieceReadings of reference pieces.
    """
    length_m, seen = np.asarray(length_m, float), int(np.count_nonzero(np.bincount(readings.segment)))
    out, kept = np.zeros((2, len(readings.x)), bool)
    no_model = partial(PoolModel, clock, seen, len(readings.x), None, None)
    reason = _why_no_model(readings, seen)
    if reason:
        return FittedPool(no_model(reason), out)
    theta = start.fit.theta if start and start.fit else None
    try:
        for _ in range(1 + ROUNDS):
            found, points = _fit(readings.take(~out), length_m, instrument_sd_db, theta, pieces)
            more, high_last = departed_in(points, found.blocks, out)
            if not more.any():
                break
            out, kept, theta = out | more, kept | high_last, found.fit.theta
    except NoFit:
        return FittedPool(no_model(NoModelReason.NO_FIT), out & ~kept)
    return FittedPool(PoolModel(clock, seen, len(readings.x), found.fit, points, None), out & ~kept)


def _why_no_model(readings, seen):
    if not len(readings.x):
        return NoModelReason.FEW_SEGMENTS
    if np.ptp(readings.x) == 0:
        return NoModelReason.ONE_TIME
    two_days = on_two_days(readings)
    # With no segment read twice sigma comes from the instrument; with a few, neither they nor it say enough.
    return NoModelReason.FEW_SEGMENTS if 0 < two_days < SEGMENTS_NEEDED or seen < SEGMENTS_NEEDED else None


def _fit(readings, length_m, instrument_sd_db, theta, pieces):
    """(Optimum, PoolPoints)."""
    with told_as_no_fit():
        found = _optimum(readings, length_m, instrument_sd_db, theta, pieces)
        sigma = found.fit.residual_sd if found.fit.sigma_from_instrument else None
        if found.fit.segments < INTEGRATE_BELOW_SEGMENTS:
            return found, integrate_parameters(found, sigma, instrument_sd_db)
        variances = Variances.from_root(*found.fit.theta)
        return found, PoolPoints.of(found, variances, np.array([found.fit.sigma2]), found.solution, np.ones(1))


def _optimum(readings, length_m, instrument_sd_db, theta, pieces):
    """Optimum of the fit, sigma from the instrument where the readings have no noise to tell it by."""
    with_length = lengths_can_be_told_apart(readings, length_m)
    options = {"with_length": with_length, "start": theta, "pieces": pieces}
    if on_two_days(readings) and not own_lines_have_no_noise(readings):
        try:
            found = fit_pool(readings, length_m, **options)
            if found.fit.residual_sd > NO_NOISE * np.std(readings.loss_db):
                return found
        except NoFit:
            # pairs that are copies of each other have no noise either, which only the fit can see
            pass
    return fit_pool(readings, length_m, sigma=instrument_sd_db, **options)
