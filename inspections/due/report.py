"""What is due, as data for other programs: numbers unrounded, days as ISO text."""

from collections import Counter

from django.core.exceptions import ValidationError

from fleet.figures import short_day
from fleet.models import DesignPosition, Fault

from ..assessment.policy_in_force import current_policy
from ..assessment.pool_fits import stored_fit
from ..assessment.services import assessments, with_related
from ..choices import SETTINGS
from ..models import PoolState
from ..numeric.words import Cause, Clock, Status

POLICY_SHOWN = ("age_limit_years", "event_limit", "loss_limit_db", "accepted_risk", "look_ahead_days", "reference_mhz")


def report_with_rest(on, *, within_days=None, everything=False):
    """The report of `on`, and {status: number of segments} of what it leaves out.

    It holds the policy, segments by due date (none last), empty positions, mats held back. Without `everything` only
    segments with a date within the look-ahead (or `within_days`), and without either those that are to be changed
    before an event that lies beyond it: as many as the pages count. A day before the one that was last assessed is
    refused: newer answers would be mixed with older questions.
    """
    check_not_before_assessed(on)
    policy = current_policy()
    fitted = stored_fit()
    model = fitted and fitted.model
    assessed = with_related(assessments(on, fitted=fitted), "segment", "mat", "before_event")
    look_ahead_days = policy.value("look_ahead_days")
    rows = [row for row in assessed if everything or _is_asked_for(row, on, within_days, look_ahead_days)]
    rows.sort(key=lambda row: (row.due_on is None, row.due_on or on, row.mat.number, row.position))
    report = {
        "on": on.isoformat(),
        "policy": {name: _limit(policy, name) for name in POLICY_SHOWN},
        "pool_trend": trend_report(model),
        "segments": [segment_report(row, _rate_name(model)) for row in rows],
        "empty_positions": empty_positions(on),
        "held_back": held_back(on),
    }
    return report, Counter(row.status for row in assessed) - Counter(row.status for row in rows)


def _is_asked_for(row, on, within_days, look_ahead_days):
    if within_days is None and row.status == Status.CHANGE_BEFORE:
        return True
    days = look_ahead_days if within_days is None else within_days
    return row.due_on is not None and (row.due_on - on).days <= days


def _limit(policy, name):
    """A value of the pool; None for a limit that is off."""
    off = SETTINGS[name].off_at_zero and policy.value(name) == 0
    return None if off else policy.value(name)


def segment_report(row, rate_name):
    """One assessed segment with every cause and the numbers behind it; `rate_name`: the key of its trend's rate."""
    return {
        "segment": row.segment.serial,
        "mat": row.mat.number,
        "position": row.position,
        "length_m": row.segment.length_m,
        "status": row.status,
        "due_on": _iso(row.due_on),
        "cause": row.cause or None,
        "causes": {
            Cause.AGE: {
                "due_on": _iso(row.age_due_on),
                "basis": row.age_basis,
                "limit_years": row.age_limit_months and row.age_limit_months / 12,
                "applies": row.age_applies,
            },
            Cause.EVENTS: {
                "count": row.event_count,
                "limit": row.event_limit,
                "applies": row.events_applies,
                "due_on": _iso(row.events_due_on),
                "basis": row.events_basis or None,
                "not_confirmed": row.not_confirmed,
                "given_way": row.given_way,
            },
            Cause.LOSS: _loss_report(row),
            Cause.TREND: _segment_trend_report(row, rate_name),
            Cause.DAMAGE: _damage_report(row),
        },
        "measure_reason": row.measure_reason or None,
        "before_event": row.before_event
        and {"event": row.before_event.code, "starts_on": _iso(row.before_event.starts_on)},
    }


def also_reached(segment, on):
    """Causes that a segment of the report has reached on that day (ISO text) beside the one that leads."""
    causes = {name: cause for name, cause in segment["causes"].items() if cause and cause.get("applies", True)}
    reached = [name for name in Cause if name in causes and causes[name]["due_on"] and causes[name]["due_on"] <= on]
    return [str(name) for name in reached if name != segment["cause"]]


def trend_report(model):
    """The fitted pool in dB and dB per year (or per event); None without a pool model."""
    if model is None or model.fit is None:
        return None
    fit, rate_name = model.fit, _rate_name(model)
    sd_intercept, sd_rate, correlation = (float(value) for value in fit.deviations)
    return {
        "clock": model.clock,
        "segments": model.segments,
        "readings": model.readings,
        "intercept_db": [float(value) for value in fit.intercept_db],
        rate_name: [float(value) for value in fit.rate_db],
        "sd_intercept_db": sd_intercept,
        f"sd_{rate_name}": sd_rate,
        "correlation": correlation,
        "residual_sd_db": float(fit.residual_sd),
        "bench_days": fit.bench_days,
        "bench_day_sd_db": fit.bench_day_sd_db,
        "wander_db": fit.wander_db,
        "settling_db": fit.settling_db,
        "at_boundary": fit.at_boundary,
    }


def _rate_name(model):
    """The rate's name by the clock of the model; years before the first."""
    return "rate_db_per_event" if model is not None and model.clock == Clock.EVENTS else "rate_db_per_year"


def _segment_trend_report(row, rate_name):
    """None where there is no line: its age is not known, or there are too few readings and no pool model."""
    if row.trend_rate_db is None:
        return None
    return {
        "due_on": _iso(row.trend_due_on),
        "expected_on": _iso(row.trend_expected_on),
        "chance_over": row.chance_over,
        "from": row.trend_from,
        "level_db": row.trend_level_db,
        "level_on": _iso(row.trend_level_on),
        rate_name: row.trend_rate_db,
        "no_date_reason": row.trend_no_date_reason or None,
    }


def empty_positions(on):
    """Positions of mats in use that hold no segment on that day, by mat and position."""
    empty = DesignPosition.objects.empty(on).values_list("mat_number", "number")
    return [{"mat": mat, "position": position} for mat, position in empty]


def held_back(on):
    """Mats in service with an open fault that is no cable's and no connector's, oldest fault of each kind first."""
    faults = Fault.objects.holding_back(on).of_mats_in_use(on).order_by("mat__number", "reported_on", "number")
    return [
        {"mat": number, "fault": place, "since": _iso(since)}
        for number, place, since in faults.values_list("mat__number", "place", "reported_on")
    ]


def check_not_before_assessed(on):
    last = PoolState.objects.filter(pk=1).values_list("assessed_on", flat=True).first()
    if last is not None and on < last:
        raise ValidationError(f"The pool was assessed as of {short_day(last)}: ask for that day or a later one.")


def _loss_report(row):
    if row.measured_on is None:
        return None
    return {
        "loss_db": row.loss_db,
        "reference_loss_db": row.reference_loss_db,
        "measured_on": _iso(row.measured_on),
        "verdict": row.verdict,
        "due_on": _iso(row.loss_due_on),
    }


def _damage_report(row):
    return row.damage_due_on and {"due_on": _iso(row.damage_due_on), "place": row.damage_place}


def _iso(day):
    return day and day.isoformat()
