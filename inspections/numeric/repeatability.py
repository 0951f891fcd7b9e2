"""How far readings of one and the same cable differ that was connected anew by the same hand."""

from dataclasses import dataclass

import numpy as np

# beyond this the same hand reads too unevenly: clean, retorque, repeat (engineering judgement: a standard deviation of
# 0.03 dB is good, 0.05 dB usual)
UNEVEN_ABOVE_DB = 0.10


@dataclass(frozen=True)
class Repeatability:
    """`sd_db` of one reading, from so many `readings` in `groups` of two or more; `freedom`: its degrees of freedom."""

    sd_db: float
    readings: int
    groups: int

    @property
    def freedom(self):
        return self.readings - self.groups

    @property
    def rounded_db(self):
        """As it is kept: to the thousandth, and never nothing."""
        return max(round(self.sd_db, 3), 0.001)

    @property
    def is_uneven(self):
        return self.sd_db > UNEVEN_ABOVE_DB


def pooled_repeatability(group, loss_db):
    """Repeatability of readings in dB, each of the cable, day and way to read it that its `group` (a whole number)
    stands for; None where none was read twice.

    sqrt(sum (n − 1) s² / sum (n − 1)) over the groups: the pooled standard deviation of ISO 5725-2:2019, 8.5.2 (the
    clause from memory; NIST/SEMATECH e-Handbook, 2.4.5.1 has the same formula). NaN readings are left out.
    """
    group, loss_db = np.asarray(group), np.asarray(loss_db, float)
    known = ~np.isnan(loss_db)
    _, row, count = np.unique(group[known], return_inverse=True, return_counts=True)
    mean = np.bincount(row, loss_db[known], len(count)) / np.maximum(count, 1)
    squares = np.bincount(row, (loss_db[known] - mean[row]) ** 2, len(count))
    repeated = count > 1
    freedom = int((count[repeated] - 1).sum())
    if freedom == 0:
        return None
    sd_db = float(np.sqrt(squares[repeated].sum() / freedom))
    return Repeatability(sd_db, int(count[repeated].sum()), int(repeated.sum()))
