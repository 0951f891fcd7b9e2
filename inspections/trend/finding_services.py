"""What takes a look at all readings of the pool, worked out once for each fit: which value spoils it, which clock wear
follows, whose readings move others' dates."""

from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache

import numpy as np

from fleet.models import CableSegment

from ..assessment.policy_in_force import current_policy
from ..assessment.pool_fits import stored_fit
from ..assessment.trend_records import fit_records
from ..assessment.wear_state import read_wear_state
from ..numeric.calendar import DAYS_A_YEAR
from ..numeric.influence import influences
from ..numeric.suspects import SUSPICIOUS_TIMES, farthest_above
from ..numeric.wear_clock import ClockComparison, compare_clocks
from ..numeric.words import Clock, NoModelReason

# a cable is named whose readings move the expected day of its length by more than a month, where that lies near enough
LONG_DAYS = 30
NEAR_YEARS = 10
MOST_INFLUENTIAL = 3
# of more cables every second, third and so on: as many tell the clocks apart, and two fits of all would take seconds
MOST_COMPARED = 2_000


@dataclass(frozen=True)
class Suspect:
    """The value on record that lies farthest above all others: a `length`, a `loss` (read on `day`), or how long a
    cable was in use by a reading: an `age` (since `day`) or `events`."""

    segment: CableSegment
    kind: str
    value: float
    usual: float
    day: date


@dataclass(frozen=True)
class Influential:
    """A cable without whose readings cables of `length_m` would be expected at the limit `days` later; negative:
    earlier, None: never."""

    segment: CableSegment
    length_m: float
    days: int | None


@dataclass(frozen=True)
class Findings:
    suspect: Suspect | None
    clocks: ClockComparison | None = None
    influential: tuple[Influential, ...] = ()


def findings(fitted_at, on):
    """Findings of the fit of that moment, as of that day, of cables that are still on record."""
    found = _worked_out(fitted_at, on)
    suspects = () if found.suspect is None else (found.suspect,)
    named = CableSegment.objects.in_bulk([each.segment for each in (*suspects, *found.influential)])

    def known(cables):
        return tuple(replace(each, segment=named[each.segment]) for each in cables if each.segment in named)

    return replace(found, suspect=next(iter(known(suspects)), None), influential=known(found.influential))


@lru_cache(maxsize=2)
def _worked_out(fitted_at, on):
    """Findings with keys in place of cables: these may be renamed before the next fit."""
    fitted, state = stored_fit(), read_wear_state(on)
    model = fitted.model
    records = fit_records(state, model.clock).leaving_out_named(fitted.left_out)
    suspect = _suspect(records, model)
    if model.fit is None:
        return Findings(suspect)
    return Findings(suspect, _compare_clocks(state, model), _influential(records, model))


def _suspect(records, model):
    """A length that no pool has; where no fit can be calculated also the loss or time that stands out most."""
    readings = records.readings
    values = {"length": records.length_m[readings.segment]}
    if model.no_model_reason == NoModelReason.NO_FIT:
        values |= {"loss": readings.loss_db, "events" if model.clock == Clock.EVENTS else "age": readings.x}
    found = {kind: farthest_above(column) for kind, column in values.items()}
    kind = max(found, key=lambda kind: found[kind][2])
    row, usual, times = found[kind]
    if times < SUSPICIOUS_TIMES:
        return None
    segment = readings.segment[row]
    day = records.day[row] if kind == "loss" else records.first_on[segment]
    return Suspect(int(records.segment[segment]), kind, float(values[kind][row]), usual, day.item())


def _influential(records, model):
    """Of each cable the length whose expected day it moves most, the farthest first."""
    lengths = np.unique(records.length_m[records.readings.segment])
    near = NEAR_YEARS * model.points.scale
    limit_db = current_policy().value("loss_limit_db")
    readings = records.readings.of_segments(records.age_known)
    found = influences(model, readings, records.length_m, lengths, limit_db=limit_db, within=near)
    days = np.nan_to_num(found.later / model.points.scale * DAYS_A_YEAR, nan=0.0)
    length, farthest = np.abs(days).argmax(axis=0), np.abs(days).max(axis=0)
    chosen = [row for row in np.argsort(-farthest)[:MOST_INFLUENTIAL].tolist() if farthest[row] > LONG_DAYS]
    return tuple(
        Influential(int(records.segment[row]), float(lengths[length[row]]), _whole(days[length[row], row]))
        for row in chosen
    )


def _whole(days):
    return round(float(days)) if np.isfinite(days) else None


def _compare_clocks(state, model):
    """The same readings by years and by events; only of segments whose mat's usage reaches back to their fitting."""
    years, events = fit_records(state, Clock.YEARS), fit_records(state, Clock.EVENTS)
    usable = np.flatnonzero(years.age_known & _usage_reaches_back(state, years))
    some = usable[:: max(1, len(usable) // MOST_COMPARED)]
    compared = np.isin(years.readings.segment, some)
    readings = (each.readings.take(compared) for each in (years, events))
    return compare_clocks(*readings, years.length_m, with_length=model.fit.with_length, start=model.fit.theta)


def _usage_reaches_back(state, records):
    """For each segment of the records: the first mat it was in has a usage event on or before its first fitting."""
    first = np.searchsorted(state.fittings.segment, records.segment)
    mat, fitted_on = state.fittings.mat[first], state.fittings.fitted_on[first]
    before_fitting = state.logs.counted.before(mat, fitted_on + np.timedelta64(1, "D"))
    return before_fitting > np.searchsorted(state.logs.counted.mat, mat, side="left")
