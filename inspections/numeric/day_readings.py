"""Readings of one segment on one day are one reading."""

from dataclasses import dataclass

import numpy as np

from .calendar import NO_DAY


@dataclass(frozen=True)
class DayReadings:
    """One row per segment and day, by segment and day; losses are NaN where the day found no signal.

    `instrument`: its number, 0 where none is on record.
    """

    segment: np.ndarray
    day: np.ndarray
    loss_db: np.ndarray
    reference_loss_db: np.ndarray
    uncertainty_db: np.ndarray
    instrument: np.ndarray
    no_signal: np.ndarray
    doubtful: np.ndarray

    def newest_of(self, segment):
        """DayReadings of these segments' last days, one row each; where there is none, as `take_or_none` says."""
        last = np.flatnonzero(np.append(self.segment[1:] != self.segment[:-1], True)[: len(self.segment)])
        rows, known = np.append(last, -1), np.append(self.segment[last], -1)
        at = np.searchsorted(known[:-1], segment)
        return self.take_or_none(np.where(known[at] == segment, rows[at], -1))

    def take_or_none(self, rows):
        """These rows; −1 gives segment −1, and NaT, NaN and False beside it."""
        return DayReadings(**{name: np.append(getattr(self, name), none)[rows] for name, none in _NONE.items()})


_NONE = {
    "segment": -1,
    "day": NO_DAY,
    "loss_db": np.nan,
    "reference_loss_db": np.nan,
    "uncertainty_db": np.nan,
    "instrument": 0,
    "no_signal": False,
    "doubtful": False,
}


def group_days(
    segment,
    day,
    repeat,
    after_cleaning,
    loss_db,
    reference_loss_db,
    uncertainty_db,
    instrument,
    no_signal,
    doubtful,
):
    """Readings (arrays of one length) to DayReadings.

    Of a day, readings without a reference loss are left out (*no signal* stays); where a sure one is left, doubtful
    ones are; where an *after cleaning* is left, all others are. Of the rest any *no signal* makes the day so, else the
    medians of the losses and of the reference losses count, each by itself; the lowest repeat gives the uncertainty and
    the instrument.
    """
    keep = ~np.isnan(reference_loss_db) | no_signal
    of_repeat = segment, day, repeat, after_cleaning, uncertainty_db, instrument, doubtful
    segment, day, repeat, after_cleaning, uncertainty_db, instrument, doubtful = (
        np.asarray(column)[keep] for column in of_repeat
    )
    loss_db, reference_loss_db, no_signal = (np.asarray(each)[keep] for each in (loss_db, reference_loss_db, no_signal))
    order = np.lexsort((repeat, ~after_cleaning, doubtful, day, segment))
    for better in (~doubtful, after_cleaning):
        starts, group = _groups(segment[order], day[order])
        order = order[better[order] == better[order][starts][group]]
    starts, group = _groups(segment[order], day[order])
    open_day = np.logical_or.reduceat(no_signal[order], starts) if len(starts) else np.zeros(0, bool)
    return DayReadings(
        segment=segment[order][starts],
        day=day[order][starts],
        loss_db=np.where(open_day, np.nan, _medians(loss_db[order], group, len(starts))),
        reference_loss_db=np.where(open_day, np.nan, _medians(reference_loss_db[order], group, len(starts))),
        uncertainty_db=uncertainty_db[order][starts],
        instrument=instrument[order][starts],
        no_signal=open_day,
        doubtful=doubtful[order][starts],
    )


def _groups(segment, day):
    """Starts of the runs of equal segment and day, and each row's run."""
    if not len(segment):
        return np.zeros(0, int), np.zeros(0, int)
    new = np.append(True, (segment[1:] != segment[:-1]) | (day[1:] != day[:-1]))
    return np.flatnonzero(new), np.cumsum(new) - 1


def _medians(values, group, groups):
    """Median of the finite values of each group (every group has a row); NaN for a group without one."""
    alone = (np.bincount(group, minlength=groups) == 1)[group]
    medians = np.full(groups, np.nan)
    medians[group[alone]] = values[alone]
    shared, group = np.unique(group[~alone], return_inverse=True)
    medians[shared] = _medians_sorted(values[~alone], group, len(shared))
    return medians


def _medians_sorted(values, group, groups):
    order = np.lexsort((values, group))
    values, group = values[order], group[order]
    finite = np.isfinite(values)
    count = np.bincount(group[finite], minlength=groups)
    start = np.searchsorted(group, np.arange(groups))
    low, high = start + np.maximum(count - 1, 0) // 2, start + np.minimum(count // 2, np.maximum(count - 1, 0))
    return np.where(count > 0, (values[low] + values[high]) / 2, np.nan) if groups else np.zeros(0)
