"""What of an assessment is assumed, how its date would move with the assumption, and which fact would help most.

The rules, ours:
- *about*: the day of fitting lies anywhere within the span given (`fleet.parsing.approximate_dates`); of
  other *about* days it is not on record how roughly they are known, so nothing is estimated.
- *not later than*: it may be any amount older, so the date is the last possible one and the earliest is not known.
- reported, assumed and usual use, and `events_before`: what the date would be with a quarter fewer and a quarter more
  of them. That shows how much depends on the number; how wrong it is, is not known.
- *not confirmed*: what the date would be had none of these events taken place.
- no use on record: by events it may be due any amount earlier.
A date moves only as far as the earliest of the other causes lets it. The fact that helps most is the one that settles
the assumption by which the date moves furthest; where the age is unknown and there is a bench, one measurement
settles more.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from fleet.choices import FittedBasis, UsageBasis, UsageState
from fleet.models import Fitting, UsageEvent
from fleet.parsing.approximate_dates import ApproximateDate, given_span
from fleet.selectors.usual_use import YEAR_DAYS, first_counted

from ..numeric.calendar import add_months
from ..numeric.words import Cause, EventsBasis
from .policy_in_force import current_policy

ABOUT, NOT_LATER_THAN = FittedBasis.ABOUT.value, FittedBasis.NOT_LATER_THAN.value
REPORTED, NOT_CONFIRMED, NO_USE = UsageBasis.REPORTED.value, "not confirmed", "no use on record"
WHEN_FITTED, ONE_MEASUREMENT, HOW_OFTEN, DID_IT_GO = "when fitted", "one measurement", "how often", "did it go"
SENSITIVITY = 0.25
FARTHEST_DAYS = 36_525
_FACTS = {
    ABOUT: WHEN_FITTED,
    NOT_LATER_THAN: WHEN_FITTED,
    REPORTED: HOW_OFTEN,
    NOT_CONFIRMED: DID_IT_GO,
    NO_USE: HOW_OFTEN,
}


@dataclass(frozen=True)
class Assumption:
    """One thing that is not known for certain, and the days between which the due date lies within it.

    `kind`: *about*, *not later than*, *reported*, *not confirmed*, *no use on record*. `day` and `span`: of the
    fitting; `events`: how many of the `of_events` are assumed. `due_from`, `due_to` None: no date; they mean nothing
    unless `estimated`. `open`: how much earlier than `due_to` it may be is not known.
    """

    kind: str
    day: date | None = None
    span: ApproximateDate | None = None
    events: int = 0
    of_events: int = 0
    due_from: date | None = None
    due_to: date | None = None
    estimated: bool = False
    open: bool = False

    @property
    def moves(self):
        return self.open or (self.estimated and self.due_from != self.due_to)

    def matters(self, on):
        """Whether the date moves, and does not lie in the past however it moves."""
        return self.moves and (self.due_to is None or self.due_to > on)

    @property
    def width_days(self):
        """How far the date moves; without an end it moves further than any other."""
        if self.open or self.due_from is None or self.due_to is None:
            return float("inf")
        return abs((self.due_to - self.due_from).days)


@dataclass(frozen=True)
class Assumptions:
    """Of one assessed segment; `ask` is the fact that would help most, '' where none would move the date."""

    each: list
    ask: str = ""

    def __bool__(self):
        return bool(self.each)


class _Fitted(NamedTuple):
    """A fitting with what is asked of its segment and of the place of its mat."""

    segment_id: int
    mat_id: int
    fitted_on: date
    removed_on: date | None
    events_before: int | None
    depot_id: int | None

    def covers(self, day):
        """As `Fitting.covers`."""
        return self.fitted_on <= day and (self.removed_on is None or day < self.removed_on)


class _Sums(NamedTuple):
    """How many events, how many of them were not counted one by one, and how many are not confirmed."""

    events: int
    reported: int
    unconfirmed: int


class _Usage:
    """What counts of these mats by a day: of each (start, counts for, whether reported, whether not confirmed)."""

    def __init__(self, mat_ids, on):
        self.of = defaultdict(list)
        rows = UsageEvent.objects.counted(on).filter(mat__in=mat_ids).order_by()
        for mat, day, counts_for, basis, state in rows.values_list(
            "mat", "event__starts_on", "counts_for", "basis", "state"
        ):
            self.of[mat].append((day, counts_for, basis != UsageBasis.COUNTED, state == UsageState.PLANNED))
        self._first, self._years = first_counted(on), {}

    def since_fitted(self, fittings):
        return _sums(entry for fitting in fittings for entry in self.of[fitting.mat_id] if fitting.covers(entry[0]))

    def of_year(self, mat_id):
        """In the last year; added up once for all cables of the mat."""
        if mat_id not in self._years:
            self._years[mat_id] = _sums(entry for entry in self.of[mat_id] if entry[0] >= self._first)
        return self._years[mat_id]


def assumptions_of(rows, on, policy=None):
    """{segment id: Assumptions} of these assessments, in two queries; `policy`: that in force, if read."""
    rows, policy = list(rows), policy or current_policy()
    fittings = _fittings({row.segment_id for row in rows}, on)
    usage = _Usage({fitting.mat_id for fits in fittings.values() for fitting in fits}, on)
    return {row.segment_id: _assumptions(row, fittings[row.segment_id], usage, policy, on) for row in rows}


def _fittings(segment_ids, on):
    by_segment = defaultdict(list)
    begun = Fitting.objects.filter(segment__in=segment_ids, fitted_on__lte=on).order_by("fitted_on")
    columns = ("segment", "mat", "fitted_on", "removed_on", "segment__events_before", "mat__depot")
    for fitted in map(_Fitted._make, begun.values_list(*columns)):
        by_segment[fitted.segment_id].append(fitted)
    return by_segment


def _assumptions(row, fittings, usage, policy, on):
    found = [*_of_fitting(row, fittings[0]), *_of_use(row, fittings, usage, on)]
    return Assumptions(found, _fact(row, found, policy.has_bench(fittings[-1].depot_id), on))


def _of_fitting(row, first):
    day, months = first.fitted_on, row.age_limit_months
    if row.age_basis == NOT_LATER_THAN:
        yield Assumption(NOT_LATER_THAN, day, due_to=row.due_on, open=True)
    elif row.age_basis == ABOUT:
        span = given_span(day)
        ends = (_sooner(row, Cause.AGE, _months_after(end, months)) for end in (span.first, span.last)) if span else ()
        due_from, due_to = ends or (None, None)
        yield Assumption(ABOUT, day, span=span, due_from=due_from, due_to=due_to, estimated=span is not None)


def _of_use(row, fittings, usage, on):
    before, use, year = fittings[0].events_before or 0, usage.since_fitted(fittings), usage.of_year(row.mat_id)
    if not usage.of[row.mat_id] and not before:
        yield Assumption(NO_USE, due_to=row.due_on, open=True)
    if use.reported + before + year.reported:
        bounds = []
        for part in (1 + SENSITIVITY, 1 - SENSITIVITY):
            count = use.events - use.reported + round(part * (use.reported + before))
            bounds.append(_with_use(row, count, year.events - year.reported + part * year.reported, on))
        yield _use_assumption(REPORTED, row, use.reported + before, bounds)
    if row.not_confirmed:
        without = _with_use(row, use.events + before - use.unconfirmed, year.events - year.unconfirmed, on)
        yield _use_assumption(NOT_CONFIRMED, row, row.not_confirmed, [row.due_on, without])


def _use_assumption(kind, row, events, bounds):
    estimated = row.events_basis != EventsBasis.PLANNED
    due_from, due_to = bounds if estimated else (None, None)
    return Assumption(
        kind, events=events, of_events=row.event_count, due_from=due_from, due_to=due_to, estimated=estimated
    )


def _sums(entries):
    events = reported = unconfirmed = 0
    for _, counts_for, is_reported, waits in entries:
        events += counts_for
        reported += is_reported and counts_for
        unconfirmed += waits and counts_for
    return _Sums(events, reported, unconfirmed)


def _with_use(row, count, year, on):
    """The due date with that many events so far and in the last year, at the usual rate."""
    if row.event_limit is None:
        return row.due_on
    if count >= row.event_limit:
        reached = row.events_due_on if row.events_basis == EventsBasis.REACHED else on
        return _sooner(row, Cause.EVENTS, reached)
    to_go = row.event_limit - count
    days = -(-YEAR_DAYS * to_go // year) if year > 0 else FARTHEST_DAYS
    return _sooner(row, Cause.EVENTS, on + timedelta(days=int(days)) if days < FARTHEST_DAYS else None)


def _sooner(row, cause, day):
    """The due date where this cause has another one: the earliest of all that apply; None where none has a date."""
    others = [getattr(row, f"{other}_due_on") for other in row.causes_that_apply if other != cause]
    own = [day] if cause in row.causes_that_apply else []
    return min(filter(None, [*others, *own]), default=None)


def _months_after(day, months):
    return add_months(day, months).astype(object) if months else None


def _fact(row, found, has_bench, on):
    mattering = [assumption for assumption in found if assumption.matters(on)]
    if not mattering:
        roughly = row.cause == Cause.AGE and row.due_on > on and any(not g.estimated for g in found if g.kind == ABOUT)
        return WHEN_FITTED if roughly else ""
    widest = max(mattering, key=lambda assumption: assumption.width_days)
    if widest.kind == NOT_LATER_THAN and has_bench and row.measured_on is None:
        return ONE_MEASUREMENT
    return _FACTS[widest.kind]
