"""Lives of cables out of their checks, by years or by events, and how damage ended others."""

from dataclasses import dataclass

import numpy as np

from ..numeric.lives.checks import lives_of_checks
from ..numeric.lives.records import Lives
from ..numeric.words import Clock, Verdict
from .cable_services import Cables, Checks

# what ended a cable's time, for the shares of each
DAMAGED, FOUND_OVER = 1, 2
# what went over between two looks with no event between was over by the next one
STEP = {Clock.YEARS: 0.0, Clock.EVENTS: 1.0}


@dataclass(frozen=True)
class CableLives:
    """`lives`: of the cables in `row` of Cables. Numbers of cables that are not among them: `never_read`,
    `clock_not_known`, `over_when_new`; and of those among them that an earlier *over* was taken back (`taken_back`),
    that count from when they came (`entered_late`), that were in use before the records begin (`late`)."""

    lives: Lives
    row: np.ndarray
    never_read: int
    clock_not_known: int
    over_when_new: int
    taken_back: int
    entered_late: int
    late: int

    def of(self, chosen):
        """Lives of the cables of a mask over Cables."""
        return self.lives.take(chosen[self.row])


def cable_lives(cables: Cables, checks: Checks, clock, *, culled=False, older=False):
    """CableLives by a Clock.

    `culled`: as if bad cables had been taken out before the records begin, so that those that were in use then count
    from there on. `older`: cables that may be older than is known are taken in, as seen within until then and never
    over: each is at least so old.
    """
    age = cables.clock_at(clock, checks.row, checks.day)
    found = lives_of_checks(
        checks.row, age, checks.verdict, len(cables.segment), when=checks.day.astype(int), step=STEP[clock]
    )
    counted = cables.is_counted(clock)
    known = counted | older
    high = np.where(counted, found.high, np.inf)
    read, bad_new = found.checks > 0, _over_when_new(cables, checks)
    entry = _entries(cables, checks, clock, culled)
    # one that was over as it came is on record only because it was let in all the same: it tells nothing
    used = np.flatnonzero(known & read & ~bad_new & (high > entry))
    return CableLives(
        lives=Lives.of(found.low[used], high[used], entry[used], cables.mat[used]),
        row=used,
        never_read=int((~read).sum()),
        clock_not_known=int((read & ~known).sum()),
        over_when_new=int((read & known & bad_new).sum()),
        taken_back=int(found.taken_back[used].sum()),
        entered_late=int((entry[used] > 0).sum()),
        late=int(cables.is_late[used].sum()),
    )


def _over_when_new(cables, checks):
    """Read over on the day of the first fitting or before, and never within."""
    within = np.isin(np.arange(len(cables.segment)), checks.row[checks.verdict == Verdict.WITHIN])
    early = (checks.verdict == Verdict.OVER) & (checks.day <= cables.first_on[checks.row])
    return np.isin(np.arange(len(cables.segment)), checks.row[early]) & ~within


def _entries(cables, checks, clock, culled):
    """The age from which on each is watched: 0 from new; of used cables that were read within before they were first
    fitted, what they had seen by then, for who was over was not fitted."""
    begun = _begun(cables, clock)
    if culled:
        return np.where(cables.is_late, begun, 0.0)
    passed = (checks.verdict == Verdict.WITHIN) & (checks.day <= cables.first_on[checks.row])
    let_in = np.isin(np.arange(len(cables.segment)), checks.row[passed])
    return np.where(let_in & (cables.events_before > 0), begun, 0.0)


def _begun(cables, clock):
    """Age of each as its records begin."""
    if not len(cables.segment):
        return np.zeros(0)
    begin = np.fmax(cables.first_on, cables.records_begin)
    rows = np.arange(len(cables.segment))
    if clock == Clock.YEARS:
        return np.maximum(cables.clock_at(clock, rows, begin), 0.0)
    return cables.events_before.astype(float)


@dataclass(frozen=True)
class Ends:
    """Arrays, one row a cable whose clock is known: age at its damage, at the check that found it over, or at its last
    day; `cause` DAMAGED, FOUND_OVER or 0; `entry`: watched from that age on. `row`: of Cables."""

    ended: np.ndarray
    cause: np.ndarray
    entry: np.ndarray
    row: np.ndarray

    def take(self, chosen):
        return Ends(*(getattr(self, name)[chosen] for name in self.__dataclass_fields__))


def cable_ends(cables: Cables, checks: Checks, clock):
    """Ends by a Clock: damage is seen when it happens, so who was in use before the records counts from there on."""
    rows = np.arange(len(cables.segment))
    over_on = _first_over(cables, checks)
    end_on = np.fmin(np.fmin(cables.damaged_on, over_on), cables.last_on)
    cause = np.select([end_on == cables.damaged_on, end_on == over_on], [DAMAGED, FOUND_OVER], 0)
    entry = np.where(cables.is_late, _begun(cables, clock), 0.0)
    ended = cables.clock_at(clock, rows, end_on) if len(rows) else np.zeros(0)
    used = cables.is_counted(clock) & (ended > entry)
    return Ends(ended, cause, entry, rows).take(used)


def _first_over(cables, checks):
    over = checks.verdict == Verdict.OVER
    day = np.full(len(cables.segment), np.datetime64("9999-12-31", "D"))
    np.minimum.at(day, checks.row[over], checks.day[over])
    return day
