"""Readings of one segment on one day are one reading."""

from dataclasses import dataclass

import numpy as np

from .calendar import NO_DAY
from .methods import go_no_go_verdict
from .verdicts import verdict
from .words import Verdict


@dataclass(frozen=True)
class DayReadings:
    """One row per segment and day, by segment and day; losses are NaN where the day found no signal, and where a
    go/no-go tester alone spoke: then `over_at_db`, `within_at_db` are the highest limits that it was set to as it said
    so (NaN: it never did; else NaN both).

    `instrument`: its number, 0 where none is on record. `held`: no verdict until somebody looked at the bench day.
    """

    segment: np.ndarray
    day: np.ndarray
    loss_db: np.ndarray
    reference_loss_db: np.ndarray
    uncertainty_db: np.ndarray
    instrument: np.ndarray
    no_signal: np.ndarray
    doubtful: np.ndarray
    over_at_db: np.ndarray
    within_at_db: np.ndarray
    held: np.ndarray

    def take(self, chosen):
        return DayReadings(*(getattr(self, name)[chosen] for name in self.__dataclass_fields__))

    @property
    def that_count(self):
        """Without those that are held back."""
        return self.take(~self.held) if self.held.any() else self

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
    "over_at_db": np.nan,
    "within_at_db": np.nan,
    "held": False,
}


@dataclass(frozen=True)
class SingleReadings:
    """Readings one by one, arrays of one length. `over_at_db`, `within_at_db`: of a go/no-go tester the limit that it
    was set to, where it said so, else NaN."""

    segment: np.ndarray
    day: np.ndarray
    repeat: np.ndarray
    after_cleaning: np.ndarray
    loss_db: np.ndarray
    reference_loss_db: np.ndarray
    uncertainty_db: np.ndarray
    instrument: np.ndarray
    no_signal: np.ndarray
    doubtful: np.ndarray
    over_at_db: np.ndarray
    within_at_db: np.ndarray
    held: np.ndarray

    @property
    def is_comparable(self):
        said = ~np.isnan(self.over_at_db) | ~np.isnan(self.within_at_db)
        return ~np.isnan(self.reference_loss_db) | self.no_signal | said

    def take(self, rows):
        return SingleReadings(*(getattr(self, name)[rows] for name in self.__dataclass_fields__))


def group_days(readings):
    """SingleReadings to DayReadings.

    Of a day, readings that are not comparable are left out; where one is left that is not held back, held ones are;
    where a sure one is left, doubtful ones are; where an *after cleaning* is left, all others are. Of the rest any *no
    signal* makes the day so, else the medians of the losses and of the reference losses count, each by itself, else
    what a go/no-go tester said; the lowest repeat gives the uncertainty and the instrument.
    """
    r = readings.take(readings.is_comparable)
    order = np.lexsort((r.repeat, ~r.after_cleaning, r.doubtful, r.held, r.day, r.segment))
    for better in (~r.held, ~r.doubtful, r.after_cleaning):
        starts, group = _groups(r.segment[order], r.day[order])
        order = order[better[order] == better[order][starts][group]]
    r = r.take(order)
    starts, group = _groups(r.segment, r.day)
    open_day = _any(r.no_signal, starts)
    numbers = ~np.isnan(r.reference_loss_db)
    said_alone = ~open_day & ~_any(numbers, starts)
    loss_db = np.where(numbers, r.loss_db, np.nan)
    return DayReadings(
        segment=r.segment[starts],
        day=r.day[starts],
        loss_db=np.where(open_day, np.nan, _medians(loss_db, group, len(starts))),
        reference_loss_db=np.where(open_day, np.nan, _medians(r.reference_loss_db, group, len(starts))),
        uncertainty_db=r.uncertainty_db[starts],
        instrument=r.instrument[starts],
        no_signal=open_day,
        doubtful=r.doubtful[starts],
        over_at_db=np.where(said_alone, _highest(r.over_at_db, starts), np.nan),
        within_at_db=np.where(said_alone, _highest(r.within_at_db, starts), np.nan),
        held=r.held[starts],
    )


def day_verdicts(days, limit_db):
    """(Verdict of each day, what a go/no-go tester alone said of it or ''); '' where there is none. Arrays."""
    judged = verdict(days.reference_loss_db, days.uncertainty_db, limit_db)
    said = go_no_go_verdict(days.over_at_db, days.within_at_db, limit_db)
    return np.select([days.no_signal, said != ""], [Verdict.OVER, said], judged), said


def _any(mask, starts):
    return np.logical_or.reduceat(mask, starts) if len(starts) else np.zeros(0, bool)


def _highest(values, starts):
    """The highest of each run, NaN where a run has none."""
    return np.fmax.reduceat(values, starts) if len(starts) else np.zeros(0)


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
