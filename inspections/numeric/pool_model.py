"""The pooled loss trend as a service uses it: fit the pool once, then answer for all segments, or for one at once.

The PoolModel that `fit_pool_model` returns can be stored (`as_json`, `from_json`); `segment_trends.assess_segments`
answers from it, with the readings of all segments or of a single one.
"""

from dataclasses import asdict, dataclass
from functools import partial

import numpy as np

from .line_checks import LineCheck, SummedReadings, set_up_line_check
from .mixed_model import FixedPart, NoFit
from .pool_fit import PoolFit, fit_pool, has_no_noise
from .segment_sums import Frame, choose_frame, sum_by_segment
from .small_pools import INTEGRATE_BELOW_SEGMENTS, ParameterGrid, integrate_parameters
from .words import Clock, NoModelReason

SEGMENTS_NEEDED = 5
# Standard uncertainty of a reading where its instrument says nothing (policy default).
INSTRUMENT_SD_DB = 0.15


@dataclass(frozen=True)
class FitReadings:
    """What goes into the fit, one reading per segment and day; arrays of shape (readings,), in order of time.

    `segment`: row of the segment; `x`: wear clock since first fitted (below 0 counts as 0); `loss_db`: reference loss;
    `as_new`: the reading is the segment's as-new loss, not a bench reading.
    """

    segment: np.ndarray
    x: np.ndarray
    loss_db: np.ndarray
    as_new: np.ndarray

    @classmethod
    def of(cls, segment, x, loss_db, as_new=None):
        """Raises ValueError for a time or loss that is not a finite number."""
        if not (np.isfinite(x).all() and np.isfinite(loss_db).all()):
            raise ValueError("A reading in the fit needs a time and a reference loss.")
        segment = np.asarray(segment, np.intp)
        as_new = np.zeros(len(segment), bool) if as_new is None else np.asarray(as_new, bool)
        return cls(segment, np.maximum(np.asarray(x, float), 0.0), np.asarray(loss_db, float), as_new)

    def of_segments(self, wanted):
        """The readings of the segments marked in `wanted`, rows unchanged."""
        kept = wanted[self.segment]
        if kept.all():
            return self
        return FitReadings(self.segment[kept], self.x[kept], self.loss_db[kept], self.as_new[kept])


@dataclass(frozen=True)
class PoolModel:
    """A fitted pool to be stored. `fit` is None where there is none, and `no_model_reason` says why.

    `grid`: weighted variance parameters of a pool of fewer than 100 segments with a reading, else None (plug-in).
    `line_check`: how each segment's line is judged; None without a fit.
    """

    clock: str
    segments: int
    readings: int
    fit: PoolFit | None
    grid: ParameterGrid | None
    line_check: LineCheck | None
    no_model_reason: NoModelReason | None

    def as_json(self):
        """Plain dictionaries, lists and numbers; `from_json` gives an equal model back."""
        return _plain(asdict(self))

    @classmethod
    def from_json(cls, stored):
        fit, grid, check = stored["fit"], stored["grid"], stored["line_check"]
        reason = stored["no_model_reason"]
        return cls(
            **{
                **stored,
                "fit": fit and PoolFit(**{**_arrays(fit), "frame": Frame(**fit["frame"])}),
                "grid": grid and ParameterGrid(**_arrays(grid)),
                "line_check": check and LineCheck(**check),
                "no_model_reason": reason and NoModelReason(reason),
            }
        )


def _plain(value):
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    return value.tolist() if isinstance(value, np.ndarray | np.generic) else value


def _arrays(stored):
    return {key: np.array(value) if isinstance(value, list) else value for key, value in stored.items()}


def fit_pool_model(readings, length_m, *, clock=Clock.YEARS, instrument_sd_db=INSTRUMENT_SD_DB):
    """PoolModel of all readings that belong in the fit; `length_m` of every segment, shape (segments,)."""
    length_m, seen = np.asarray(length_m, float), int(np.count_nonzero(np.bincount(readings.segment)))
    no_model = partial(PoolModel, clock, seen, len(readings.x), None, None, None)
    if not len(readings.x):
        return no_model(NoModelReason.FEW_SEGMENTS)
    if np.ptp(readings.x) == 0:
        return no_model(NoModelReason.ONE_TIME)
    summed = sum_readings(readings, len(length_m), choose_frame(readings.x, readings.loss_db))
    on_two_days = int((summed.sums.x_squares > 0).sum())
    # With no segment read twice sigma comes from the instrument; with a few, neither they nor it say enough.
    if 0 < on_two_days < SEGMENTS_NEEDED or seen < SEGMENTS_NEEDED:
        return no_model(NoModelReason.FEW_SEGMENTS)
    fixed = FixedPart.of(length_m, lengths_can_be_told_apart(readings, length_m))
    try:
        # a result that is not finite is told below as NoFit
        with np.errstate(all="ignore"):
            fit = _fit(summed, fixed, instrument_sd_db, sigma_known=on_two_days == 0)
            sigma = fit.residual_sd if fit.sigma_from_instrument else None
            small = seen < INTEGRATE_BELOW_SEGMENTS
            grid = integrate_parameters(summed.sums, fixed, summed.frame, sigma) if small else None
            check = set_up_line_check(summed, fit.residual_sd)
    except NoFit:
        return no_model(NoModelReason.NO_FIT)
    return PoolModel(clock, seen, len(readings.x), fit, grid, check, None)


def sum_readings(readings, segments, frame):
    """The readings with their sums in `frame`."""
    sums = sum_by_segment(readings.segment, readings.x, readings.loss_db, segments, frame)
    return SummedReadings(readings.segment, readings.x, readings.loss_db, sums, frame)


def _fit(summed, fixed, instrument_sd_db, sigma_known):
    if not sigma_known:
        fit = fit_pool(summed.sums, fixed, summed.frame)
        if not has_no_noise(fit, summed.sums):
            return fit
    return fit_pool(summed.sums, fixed, summed.frame, sigma=instrument_sd_db)


def lengths_can_be_told_apart(readings, length_m):
    """True where length terms may be fitted: at least two lengths have readings, and at least two a spread in x."""
    lengths, group = np.unique(length_m, return_inverse=True)
    group = group[readings.segment]
    low, high = np.full(len(lengths), np.inf), np.full(len(lengths), -np.inf)
    np.minimum.at(low, group, readings.x)
    np.maximum.at(high, group, readings.x)
    return int((high > low).sum()) >= 2
