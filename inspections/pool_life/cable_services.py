"""Every cable on record with what tells how long it lasts: its first day, its mat, its checks, its damage."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from django.db.models import F, Q

from fleet.choices import FaultEnd, FittedBasis
from fleet.models import Fault

from ..assessment.bench_day_selectors import read_bench_days
from ..assessment.trend_records import events_by, years_since
from ..assessment.wear_columns import read_readings
from ..assessment.wear_state import WearState, days_of, read_wear_state
from ..numeric.calendar import NO_DAY
from ..numeric.day_readings import DayReadings, day_verdicts
from ..numeric.words import Clock, Verdict
from ..sampling.reading_selectors import COUNTED


@dataclass(frozen=True)
class Cables:
    """Arrays, one row a cable that was ever fitted, in order of its key.

    `mat`, `design`, `depot` (0: none) are those of its last fitting. `first_on`: fitted for the first time.
    `damaged_on`: the first damage of cable or connector that was seen, NaT none. `last_on`: its last day in a mat,
    today where it is in one. `age_known`: it is not older than its first fitting says. `is_late`: it was in use before
    the pool's records begin (`records_begin`, NaT where there are none).
    """

    state: WearState
    segment: np.ndarray
    length_m: np.ndarray
    mat: np.ndarray
    design: np.ndarray
    depot: np.ndarray
    first_on: np.ndarray
    damaged_on: np.ndarray
    last_on: np.ndarray
    in_service: np.ndarray
    age_known: np.ndarray
    events_before: np.ndarray
    records_begin: np.datetime64

    @property
    def is_late(self):
        return (self.first_on < self.records_begin) | (self.events_before > 0)

    @cached_property
    def counted_days(self) -> DayReadings:
        """Days of sample and routine readings, read when they are first asked for."""
        on = self.state.day.item()
        return days_of(read_readings(on, reasons=COUNTED), self.state.policy, read_bench_days(on))

    def clock_at(self, clock, rows, days):
        """Age of these cables on these days: years since first fitted, or events since new."""
        if clock == Clock.YEARS:
            return years_since(self.first_on[rows], days)
        return events_by(self.state, self.segment[rows], days)

    def is_counted(self, clock):
        """Whether the clock of each cable is known from new. Events: those of its mat are logged, and were when it was
        first fitted, or somebody said how many it had seen before."""
        if clock == Clock.YEARS:
            return self.age_known
        log = self.state.logs.counted
        begun = log.start.min() if len(log.start) else NO_DAY
        known = (self.age_known & (self.first_on >= begun)) | (self.events_before > 0)
        return known & ~np.isnat(log.last_start(self.mat))


@dataclass(frozen=True)
class Checks:
    """Days on which cables were read so that they are within or over, before any damage. `row`: of Cables."""

    row: np.ndarray
    day: np.ndarray
    verdict: np.ndarray


def read_cables(on):
    """Cables by that day; as many queries for one as for all."""
    state = read_wear_state(on)
    fittings = state.fittings
    segment, first = np.unique(fittings.segment, return_index=True)
    last = np.append(first[1:], len(fittings.segment))[: len(first)] - 1
    removed_on = fittings.removed_on[last]
    gone = removed_on <= state.day
    return Cables(
        state=state,
        segment=segment,
        length_m=fittings.length_m[last],
        mat=fittings.mat[last],
        design=fittings.design[last],
        depot=fittings.depot[last],
        first_on=fittings.fitted_on[first],
        damaged_on=_damaged_on(segment, on),
        last_on=np.where(gone, removed_on, _last_seen(state, last)),
        in_service=fittings.in_service[last],
        age_known=fittings.basis[first] != FittedBasis.NOT_LATER_THAN,
        events_before=fittings.events_before[first],
        records_begin=_records_begin(state),
    )


def _last_seen(state, rows):
    """Today for fittings in service; of those in a mat that was withdrawn, the last event that it went to."""
    mat, fitted_on = state.fittings.mat[rows], state.fittings.fitted_on[rows]
    return np.where(state.fittings.in_service[rows], state.day, np.fmax(fitted_on, state.logs.counted.last_start(mat)))


def _records_begin(state):
    """The first day of which anything but a fitting is on record: a reading, an event that mats went to, a removal."""
    removed_on = state.fittings.removed_on
    known = [state.by_day.day, state.logs.counted.start, removed_on[~np.isnat(removed_on)]]
    days = np.concatenate(known)
    return days.min() if len(days) else NO_DAY


def _damaged_on(segment, on):
    """The day of the first damage of each cable that was not *nothing found*; faults of the cable that was there: of
    one that was changed on the day of its report the cable that came out, not the one that took its place."""
    at_once = Q(end_reason=FaultEnd.CHANGE, ended_on=F("reported_on"))
    before = Q(mat__fittings__fitted_on__lt=F("reported_on"), mat__fittings__removed_on__gte=F("reported_on"))
    there = Q(mat__fittings__fitted_on__lte=F("reported_on"))
    still = Q(mat__fittings__removed_on=None) | Q(mat__fittings__removed_on__gt=F("reported_on"))
    whose = Q(mat__fittings__position=F("position")) & ((at_once & before) | (~at_once & there & still))
    seen = Fault.objects.of_cables().filter(whose, reported_on__lte=on)
    seen = seen.exclude(end_reason=FaultEnd.NOTHING_FOUND, ended_on__lte=on).order_by("-reported_on")
    damaged_on = np.full(len(segment), NO_DAY)
    for key, day in seen.values_list("mat__fittings__segment", "reported_on"):
        row = np.searchsorted(segment, key)
        if row < len(segment) and segment[row] == key:
            damaged_on[row] = day
    return damaged_on


def checks_of(cables, *, suspect=False, sure=False):
    """Checks of sample and routine readings; `suspect`: of those too that were taken because somebody suspected the
    cable. Readings of a day are one; what is held back tells nothing.

    Judged by the side of the limit on which they read, however near; `sure`: by sure verdicts alone, as everywhere
    else. Whoever waits for these finds cables near the limit in neither lot, and sees fewer over while few are, and
    more once most are: of 100 drawn pools of 400 cables the 90 % interval of the age at 5 % held the truth in 50, and
    by the side of the limit in 82.
    """
    by_day = cables.state.by_day if suspect else cables.counted_days
    days = by_day.that_count
    if not sure:
        days = replace(days, uncertainty_db=np.zeros(len(days.segment)))
    row = np.searchsorted(cables.segment, days.segment)
    known = row < len(cables.segment)
    known[known] = cables.segment[row[known]] == days.segment[known]
    return _judged(cables, days.take(known), row[known])


def _judged(cables, days, row):
    limit_db = limits_db(cables)[row]
    verdict = day_verdicts(days, limit_db)[0]
    # a damaged cable tells how long cables last no more; what is doubtful decides nothing
    sure = ((verdict == Verdict.WITHIN) | (verdict == Verdict.OVER)) & ~days.doubtful
    chosen = sure & ~(days.day >= cables.damaged_on[row])
    return Checks(row[chosen], days.day[chosen], verdict[chosen])


def limits_db(cables):
    """The loss limit of each cable: of the design of its mat, else of the pool."""
    design, index = np.unique(cables.design, return_inverse=True)
    limits = [cables.state.policy.value("loss_limit_db", design_id=key) for key in design.tolist()]
    return np.array(limits, float)[index] if len(design) else np.zeros(0)
