"""The readings of an invented pool of tests/data, built with pandas straight from its files, not through the app."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from inspections.numeric.fit_readings import FitReadings
from inspections.numeric.segment_trends import Segments

DATA = Path(__file__).parent / "data"
ON = pd.Timestamp(2026, 9, 30)


@dataclass(frozen=True)
class CaseReadings:
    """What goes into the fit; arrays of shape (readings,), and of every segment that was ever fitted.

    `day`: days since 1970 and the instrument's number (0: none), -1 for an as-new loss of the register.
    """

    segment: np.ndarray
    x: np.ndarray
    loss_db: np.ndarray
    as_new: np.ndarray
    day: np.ndarray
    serials: list
    length_m: np.ndarray
    fitted_on: pd.Series
    age_known: np.ndarray

    @property
    def fit_readings(self):
        return FitReadings.of(self.segment, self.x, self.loss_db, self.as_new, day=self.day)

    @property
    def asked(self):
        now = ((ON - self.fitted_on).dt.days / 365.25).to_numpy()
        return Segments.of(self.length_m, now, age_known=self.age_known)


def reference_losses(rows):
    """loss sqrt(f_ref / f) / (1 + 0.002 (T - 20)), 20 degrees where not given; comparable only within 860-960 MHz."""
    mhz, temperature_c = rows.frequency_mhz.fillna(900.0), rows.temperature_c.fillna(20.0)
    loss_db = pd.to_numeric(rows.loss_db, errors="coerce")
    brought = loss_db * np.sqrt(900 / mhz) / (1 + 0.002 * (temperature_c - 20))
    return brought.where(mhz.between(860, 960))


def day_readings(rows):
    """One reading per segment and day: the median of those after cleaning where there is one, else of all."""
    rows = rows[rows.voided_on.isna()].copy()
    rows["y"] = reference_losses(rows)
    rows["open"] = rows.loss_db == "no signal"
    rows["last_kind"] = (rows.taken == "after cleaning").astype(int)
    rows["number"] = rows.instrument.astype("category").cat.codes + 1
    days = rows.groupby(["segment", "measured_on"])
    rows = rows[rows.last_kind == days.last_kind.transform("max")]
    days = rows.groupby(["segment", "measured_on"])
    days = days.agg(y=("y", "median"), open=("open", "any"), number=("number", "max")).reset_index()
    return days[~days.open & days.y.notna()].assign(as_new=False)


def first_fittings(fittings):
    first = fittings.sort_values("fitted_on").groupby("segment").first()
    return pd.to_datetime(first.fitted_on), first.fitted_basis.fillna("known")


def read_case(name):
    """CaseReadings of the folder `name` of tests/data."""
    fittings, segments, measurements = (
        pd.read_csv(DATA / name / f"{file}.csv") for file in ("fittings", "segments", "measurements")
    )
    fitted_on, basis = first_fittings(fittings)
    segments = segments.set_index("segment").loc[fitted_on.index]
    rows = _fit_rows(segments, day_readings(measurements), fitted_on)
    day = (pd.to_datetime(rows.measured_on) - pd.Timestamp(1970, 1, 1)).dt.days
    return CaseReadings(
        segment=fitted_on.index.get_indexer(rows.segment),
        x=rows.x.to_numpy(),
        loss_db=rows.y.to_numpy(),
        as_new=rows.as_new.to_numpy(bool),
        day=np.where(rows.as_new, -1, day.fillna(0).to_numpy(np.int64) << 32 | rows.number.fillna(0).to_numpy(int)),
        serials=list(fitted_on.index),
        length_m=segments.length_m.to_numpy(),
        fitted_on=fitted_on,
        age_known=(basis != "not later than").to_numpy(),
    )


def _fit_rows(segments, days, fitted_on):
    """As-new losses at 0, where there is no reading of the day of fitting, and the readings; in order of time."""
    as_new = segments[segments.as_new_loss_db.notna()]
    as_new = pd.DataFrame({"segment": as_new.index, "y": as_new.as_new_loss_db.to_numpy(), "x": 0.0, "as_new": True})
    days = days[days.segment.isin(fitted_on.index)].copy()
    days["x"] = (pd.to_datetime(days.measured_on) - fitted_on[days.segment].to_numpy()).dt.days / 365.25
    at_fitting = days[days.x == 0].segment
    return pd.concat([as_new[~as_new.segment.isin(at_fitting)], days]).sort_values(["segment", "x"])
