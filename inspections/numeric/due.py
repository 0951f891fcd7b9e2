"""The causes of being due, and the status that follows. Arrays of segments in, arrays out."""

from dataclasses import dataclass

import numpy as np

from .calendar import NO_DAY, add_months, first_of
from .departures import DEPARTS_BEYOND
from .usage_counts import UsageLog, first_ending_from, gives_way, projected_day
from .words import Cause, EventsBasis, MeasureReason, NoDateReason, Status, TrendFrom, Verdict

_ONE_DAY = np.timedelta64(1, "D")


@dataclass(frozen=True)
class UsageLogs:
    """What the mats went through, and what they are planned for, as seen on a day."""

    counted: UsageLog
    not_confirmed: UsageLog
    given_way: UsageLog
    planned: UsageLog
    planned_rows: np.ndarray
    planned_ends: np.ndarray

    @classmethod
    def of(cls, mat, starts_on, ends_on, planned, usual, counts_for, on):
        """Split usage events (called off left out): a planned one that is over counts as went, not confirmed."""
        over = planned & (ends_on < on)
        counts = (~planned | over) & (starts_on <= on)
        ahead = planned & ~over
        gone = gives_way(mat, starts_on, counts, usual)
        counted = counts & ~gone
        return cls(
            counted=UsageLog.of(mat[counted], starts_on[counted], counts_for[counted]),
            not_confirmed=UsageLog.of(mat[over], starts_on[over], np.ones(over.sum())),
            given_way=UsageLog.of(mat[gone], starts_on[gone], counts_for[gone]),
            planned=UsageLog.of(mat[ahead], starts_on[ahead], counts_for[ahead]),
            planned_rows=np.flatnonzero(ahead),
            planned_ends=ends_on[ahead],
        )

    def first_planned_from(self, mat, day):
        """Row of the mat's first planned usage event that ends on or after `day`; −1 without one."""
        row = first_ending_from(self.planned, self.planned_ends, mat, day)
        return np.where(row >= 0, self.planned_rows[row], -1) if len(self.planned_rows) else row


@dataclass(frozen=True)
class EventsCause:
    count: np.ndarray
    not_confirmed: np.ndarray
    given_way: np.ndarray
    due_on: np.ndarray
    basis: np.ndarray  # of EventsBasis, or ''


def events_cause(fittings, current, logs, limit, on):
    """Events that each current fitting's segment has been through, and the day on which the limit is reached.

    `fittings` has columns segment, mat, fitted_on, removed_on, events_before, sorted by segment and day;
    `current` are row numbers of the fittings to answer for, `limit` their event limits, 0 where it is off.
    """
    tomorrow = on + _ONE_DAY
    until = np.where(np.isnat(fittings.removed_on), tomorrow, np.minimum(fittings.removed_on, tomorrow))
    each, guesses, gone = (
        log.sum_between(fittings.mat, fittings.fitted_on, until)
        for log in (logs.counted, logs.not_confirmed, logs.given_way)
    )
    first, last = _span_of_segment(fittings.segment, current)
    before = fittings.events_before[current]
    total = np.concatenate([[0], np.cumsum(each)])
    count = before + total[last] - total[first]
    reached_on = _day_reached(fittings, logs, first, total, limit - before)
    still = limit - count
    planned_on = logs.planned.day_reaching(fittings.mat[current], fittings.fitted_on[current], np.maximum(still, 1))
    usual_on = _usual_day(fittings, current, logs, still, on)
    off, reached = limit == 0, count >= limit
    due_on = np.where(reached, reached_on, np.where(np.isnat(planned_on), usual_on, planned_on))
    basis = np.select(
        [off, reached, ~np.isnat(planned_on), ~np.isnat(usual_on)],
        ["", EventsBasis.REACHED, EventsBasis.PLANNED, EventsBasis.USUAL_RATE],
        "",
    )
    of_segment = (_sum_of_rows(column, first, last) for column in (guesses, gone))
    return EventsCause(count, *of_segment, np.where(off, NO_DAY, due_on), basis)


def _sum_of_rows(column, first, last):
    total = np.concatenate([[0], np.cumsum(column)])
    return total[last] - total[first]


def _span_of_segment(segment, rows):
    """First row, and row after the last, of each row's segment."""
    return np.searchsorted(segment, segment[rows], "left"), np.searchsorted(segment, segment[rows], "right")


def _day_reached(fittings, logs, first, total, need):
    """Start of the event at which the count since `first` came to `need`; first fitted day where need ≤ 0."""
    row = np.searchsorted(total, total[first] + np.maximum(need, 1), side="left") - 1
    row = np.clip(row, 0, max(len(fittings.segment) - 1, 0))
    within = np.maximum(need, 1) - (total[row] - total[first])
    day = logs.counted.day_reaching(fittings.mat[row], fittings.fitted_on[row], np.maximum(within, 1))
    return np.where(need <= 0, fittings.fitted_on[first], day)


def _usual_day(fittings, current, logs, still, on):
    """The limit projected at the mat's own rate of the last 365 days, from the last planned start or today."""
    mat, fitted_on = fittings.mat[current], fittings.fitted_on[current]
    rate = logs.counted.of_last_year(mat, on)
    never = np.full(len(mat), np.datetime64("9999-01-01", "D"))
    still = still - logs.planned.sum_between(mat, fitted_on, never)
    return projected_day(np.fmax(logs.planned.last_start(mat), on), np.maximum(still, 0), rate)


def leading_cause(due_on, on):
    """Earliest of the days of each Cause, and the cause that leads: the first of those reached `on`, else of that day.

    NaT and '' where none has a date. `due_on` maps causes to days.
    """
    given = [due_on[cause] for cause in Cause]
    day = first_of(*given)
    leads = [days <= on for days in given] + [days == day for days in given]
    return day, np.select(leads, [*Cause, *Cause], "")


def fresh(newest_on, again_months, on):
    """True where there is a newest reading and it is not older than `again_months`; nothing is fresh without one."""
    return add_months(newest_on, again_months) >= on


def has_own_say(sound, trend_from, no_date_reason):
    """True where a segment's own readings say how worn it is: the newest within and sure, and a line with its date."""
    dated = (no_date_reason == "") | (no_date_reason == NoDateReason.LATER)
    return sound & (trend_from == TrendFrom.OWN) & dated


def only_due_by(cause, due_on, day):
    """True where that cause is due by the day and no other is."""
    others = [days <= day for other, days in due_on.items() if other != cause]
    return (due_on[cause] <= day) & ~np.logical_or.reduce(others)


def day_in_question(due_on, event_ends_on, on, look_ahead_days):
    """The day by which a segment would have to be changed: today, the end of the event ahead, or the look-ahead's."""
    horizon = on + np.timedelta64(look_ahead_days, "D")
    return np.where(due_on <= on, on, np.where(np.isnat(event_ends_on), horizon, event_ends_on))


def measure_reason(
    verdict, doubtful, departure, no_date_reason, has_bench, newest_on, first_fitted_on, again_months, on
):
    """MeasureReason of each segment, the first that applies; '' where none does.

    `departure`: of the newest reading from what all others say, in standard deviations; nan where there is none. Age of
    the newest reading counts only where the depot has a bench; `newest_on` NaT means never measured.
    """
    never = np.isnat(newest_on)
    since = np.where(never, first_fitted_on, newest_on)
    old = has_bench & ~fresh(since, again_months, on)
    asks = {
        MeasureReason.UNDECIDED: verdict == Verdict.UNDECIDED,
        MeasureReason.DOUBTFUL: doubtful.astype(bool),
        MeasureReason.NO_LINE: np.abs(departure) > DEPARTS_BEYOND,
        MeasureReason.FALLING: no_date_reason == NoDateReason.FALLING,
        MeasureReason.NEVER_MEASURED: old & never,
        MeasureReason.LONG_AGO: old,
    }
    return np.select(list(asks.values()), list(asks), "")


def status_order(due_on, before_event, measure, measure_instead, unknown, on, look_ahead_days):
    """`Status.order` of each segment: the first that applies. `before_event` is −1 without one after the due day.

    `measure_instead`: what a bench could tell stands behind the date; it is measured before it is changed. `unknown`:
    nothing says that it is OK.
    """
    applies = {
        Status.CHANGE_NOW: ~measure_instead & (due_on <= on),
        Status.CHANGE_BEFORE: ~measure_instead & (before_event >= 0),
        Status.CHANGE_SOON: ~measure_instead & (due_on <= on + np.timedelta64(look_ahead_days, "D")),
        Status.MEASURE: measure_instead | (measure != ""),
        Status.UNKNOWN: unknown,
    }
    return np.select(list(applies.values()), [status.order for status in applies], Status.OK.order)
