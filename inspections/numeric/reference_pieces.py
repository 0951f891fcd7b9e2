"""Readings of reference pieces: kept cables of agreed loss, whose departure is a bench day's shift.

In the fit a piece is a pseudo-segment of known level and no rate: reading - agreed value = s_d + d_p + e, with the
error of the agreed value d_p ~ N(0, U^2) common to all readings of the piece, and e ~ N(0, r^2).
"""

from dataclasses import dataclass

import numpy as np

from .likelihood_sums import Sums
from .reading_blocks import day_columns


@dataclass(frozen=True)
class PieceReadings:
    """Arrays (readings,): `piece` number, `day` key of the bench day, `difference_db` reading - agreed value,
    `repeatability_db` r and `value_sd_db` U of each (U alike for all of one piece)."""

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
