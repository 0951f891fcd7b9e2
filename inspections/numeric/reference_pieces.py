"""Readings of reference pieces: kept cables of agreed loss, whose departure is a bench day's shift.

In the fit a piece is a pseudo-segment of known level and no rate: reading - agreed value = s_d + d_p + e, with the
error of the agreed value d_p ~ N(0, U^2) common to all readings of the piece, and e ~ N(0, r^2).
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .likelihood_sums import Sums
from .reading_blocks import day_columns

# Of the same operator after reconnecting: 0.03 dB good, 0.05 usual, above 0.10: clean, retorque, repeat (shared page
# on radio frequency, section 3: engineering judgement).
USUAL_REPEATABILITY_DB = 0.05
# Warning and action limits of a control chart (Shewhart charts, ISO 7870-2, and the NIST/SEMATECH e-handbook 6.3.1;
# from memory): 2 and 3 standard deviations, beyond which 4.6 % and 0.27 % of undisturbed values lie.
WARNING_SDS, ACTION_SDS = 2, 3
# of readings from which an agreed value is proposed: common practice, no source
READINGS_TO_AGREE, DAYS_TO_AGREE = 5, 3


def departure_sd_db(repeatability_db, value_sd_db):
    """Standard deviation of reading - agreed value, dB: sqrt(r^2 + U^2); a repeatability that is not known (NaN) is the
    usual one. Arrays broadcast."""
    repeatability_db = np.asarray(repeatability_db, float)
    return np.hypot(np.where(np.isnan(repeatability_db), USUAL_REPEATABILITY_DB, repeatability_db), value_sd_db)


def is_beyond(difference_db, sd_db):
    """Whether reading - agreed value lies beyond the action limits; never where no value is agreed (NaN)."""
    with np.errstate(invalid="ignore"):
        return np.abs(difference_db) > ACTION_SDS * np.asarray(sd_db)


class ProposedValue(NamedTuple):
    """An agreed value of so many readings on so many days, and its standard uncertainty, dB."""

    loss_db: float
    uncertainty_db: float
    readings: int
    days: int


def proposed_value(day, loss_db, repeatability_db=USUAL_REPEATABILITY_DB):
    """ProposedValue of readings (arrays alike): the mean of the means of their days; None from too few of them.

    Its standard uncertainty is that of a mean (JCGM 100:2008, 4.2.3): the scatter of the day means by the root of their
    number, combined with the repeatability by the root of the number of readings.
    """
    days, row, count = np.unique(day, return_inverse=True, return_counts=True)
    if len(row) < READINGS_TO_AGREE or len(days) < DAYS_TO_AGREE:
        return None
    means = np.bincount(row, loss_db) / count
    scatter_db, own_db = np.std(means, ddof=1) / np.sqrt(len(days)), repeatability_db / np.sqrt(len(row))
    return ProposedValue(float(np.mean(means)), float(np.hypot(scatter_db, own_db)), len(row), len(days))


@dataclass(frozen=True)
class PieceReadings:
    """Arrays (readings,): `piece` number, `day` key of the bench day, `difference_db` reading - agreed value,
    `repeatability_db` r and `value_sd_db` U of each (U alike for all of one number: a value that was renewed has an
    error of its own, so each agreed value has its number)."""

    piece: np.ndarray
    day: np.ndarray
    difference_db: np.ndarray
    repeatability_db: np.ndarray
    value_sd_db: np.ndarray

    def of_days(self, days):
        """Those taken on these bench days: on others they say nothing of a cable."""
        kept = np.isin(self.day, days)
        return PieceReadings(*(getattr(self, name)[kept] for name in self.__dataclass_fields__))

    def sums(self, keys, columns):
        """Sums of the likelihood in dB (as if sigma were 1 dB) between the bench days `keys`; no fixed columns."""
        day, rows = day_columns(self.day, keys), np.arange(len(self.day))
        same_piece = self.piece[:, None] == self.piece[None, :]
        v = np.diag(self.repeatability_db**2) + same_piece * np.outer(self.value_sd_db, self.value_sd_db)
        p = np.linalg.inv(v) if len(rows) else v
        indicator = np.zeros((len(rows), len(keys) + 1))
        indicator[rows, day] = 1.0
        indicator = indicator[:, :-1]
        fixed, weighted = len(columns), p @ self.difference_db
        return Sums(
            log_det=np.array([np.linalg.slogdet(v)[1]]),
            yy=np.array([self.difference_db @ weighted]),
            fy=np.zeros((1, fixed)),
            dy=(weighted @ indicator)[None],
            ff=np.zeros((1, fixed, fixed)),
            fd=np.zeros((1, fixed, len(keys))),
            dd=(indicator.T @ p @ indicator)[None],
        )
