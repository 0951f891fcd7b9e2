"""What goes into a fit: one reading per segment and day."""

from dataclasses import dataclass, fields

import numpy as np

# the bench day of a reading that shares its day with no other, as an as-new loss of the register
ALONE = -1


@dataclass(frozen=True)
class FitReadings:
    """Readings of a pool or of some of its segments; arrays of shape (readings,).

    `segment`: row of the segment; `x`: wear clock since first fitted, `years` since then (both below 0 count as 0);
    `loss_db`: reference loss; `as_new`: the segment's as-new loss, not a bench reading; `day`: key of the bench day
    whose shift it shares, or ALONE; `left_out`: departed when the pool was fitted, and kept out of every line;
    `shift_db`, `shift_sd_db`: shift of a bench day that is newer than the fit, nan where the day is the fit's own.
    """

    segment: np.ndarray
    x: np.ndarray
    years: np.ndarray
    loss_db: np.ndarray
    as_new: np.ndarray
    day: np.ndarray
    left_out: np.ndarray
    shift_db: np.ndarray
    shift_sd_db: np.ndarray

    @classmethod
    def of(
        cls, segment, x, loss_db, as_new=None, *, day=None, years=None, left_out=None, shift_db=None, shift_sd_db=None
    ):
        """`years` None: the clock counts years. Raises ValueError for a time or loss that is not a finite number."""
        years = x if years is None else years
        if not all(np.isfinite(part).all() for part in (x, years, loss_db)):
            raise ValueError("A reading in the fit needs a time and a reference loss.")
        count = len(segment)

        def given(values, default, dtype):
            return np.full(count, default, dtype) if values is None else np.asarray(values, dtype)

        return cls(
            segment=np.asarray(segment, np.intp),
            x=np.maximum(np.asarray(x, float), 0.0),
            years=np.maximum(np.asarray(years, float), 0.0),
            loss_db=np.asarray(loss_db, float),
            as_new=given(as_new, False, bool),
            day=given(day, ALONE, np.int64),
            left_out=given(left_out, False, bool),
            shift_db=given(shift_db, np.nan, float),
            shift_sd_db=given(shift_sd_db, np.nan, float),
        )

    def take(self, chosen):
        """These readings, by a mask or row numbers; segment rows unchanged."""
        return FitReadings(*(getattr(self, field.name)[chosen] for field in fields(self)))

    def of_segments(self, wanted):
        """The readings of the segments marked in `wanted`, rows unchanged."""
        kept = wanted[self.segment]
        return self if kept.all() else self.take(kept)
