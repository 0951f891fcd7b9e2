"""What goes into one fit of a pool, and how it is fitted."""

from dataclasses import dataclass, replace

import numpy as np

from .fit_readings import FitReadings
from .likelihood import Deviance
from .reading_blocks import lay_out, shared_days
from .reference_pieces import PieceReadings
from .wear_model import FixedColumns


@dataclass(frozen=True)
class Material:
    """What goes into one fit: readings about their mean, and how they are fitted."""

    readings: FitReadings
    length_m: np.ndarray
    scale: float
    columns: FixedColumns
    sigma2: float | None
    restricted: bool
    pieces: PieceReadings | None

    def shared_days(self):
        """(keys, readings) of the bench days with two readings or more, a cable's among them."""
        mine = self.readings.day
        if self.pieces is None:
            return shared_days(mine)
        return shared_days(np.concatenate([mine, self.pieces.of_days(np.unique(mine)).day]))

    def deviance(self, keys):
        """Deviance with a shift for each of the bench days `keys`."""
        blocks = tuple(lay_out(self.readings, self.length_m, keys, self.scale))
        some = self.pieces and self.pieces.of_days(keys)
        pieces = some.sums(keys, self.columns) if some and len(some.day) else None
        return Deviance(blocks, self.columns, len(keys), self.sigma2, self.restricted, pieces)

    def of_segments(self, rows):
        wanted = np.zeros(len(self.length_m), bool)
        wanted[rows] = True
        return replace(self, readings=self.readings.of_segments(wanted))


def units_a_year(readings):
    """Units of the clock in a year: 1 where it counts years."""
    years, units = readings.years.sum(), readings.x.sum()
    return float(units / years) if years > 0 and units > 0 else 1.0
