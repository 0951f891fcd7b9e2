"""What is due, as data for other programs (design section 7): numbers unrounded, days as ISO text."""

from django.core.exceptions import ValidationError
from django.db.models import prefetch_related_objects

from fleet.models import DesignPosition, Fault, Fitting

from ..choices import Cause
from ..models import PoolState
from ..selectors.policy import current_policy
from .scheduling import assessments

POLICY_SHOWN = ("age_limit_years", "event_limit", "loss_limit_db", "accepted_risk", "look_ahead_days", "reference_mhz")


def due_report(on, *, within_days=None, everything=False):
    """The report of `on`: policy, segments by due date (none last), empty positions, mats held back.

    Without `everything` only segments with a date within the look-ahead (or `within_days`). A day before the one
    that was last assessed is refused: newer answers would be mixed with older questions.
    """
    _check_not_before_assessed(on)
    policy = current_policy()
    rows = assessments(on)
    prefetch_related_objects(rows, "segment", "mat", "before_event")
    if not everything:
        days = policy.value("look_ahead_days") if within_days is None else within_days
        rows = [row for row in rows if row.due_on is not None and (row.due_on - on).days <= days]
    rows.sort(key=lambda row: (row.due_on is None, row.due_on or on, row.mat.number, row.position))
    return {
        "on": on.isoformat(),
        "policy": {name: policy.value(name) for name in POLICY_SHOWN},
        "pool_trend": None,
        "segments": [segment_report(row) for row in rows],
        "empty_positions": empty_positions(on),
        "held_back": held_back(on),
    }


def segment_report(row):
    """One assessed segment with every cause and the numbers behind it."""
    return {
        "segment": row.segment.serial,
        "mat": row.mat.number,
        "position": row.position,
        "length_m": row.segment.length_m,
        "standing": row.standing,
        "due_on": _iso(row.due_on),
        "cause": row.cause or None,
        "causes": {
            "age": {"due_on": _iso(row.age_due_on), "basis": row.age_basis},
            "events": {
                "count": row.event_count,
                "limit": row.event_limit,
                "due_on": _iso(row.events_due_on),
                "basis": row.events_basis or None,
                "not_confirmed": row.not_confirmed,
            },
            Cause.LOSS.value: _loss_report(row),
            Cause.TREND.value: None,
            Cause.DAMAGE.value: _damage_report(row),
        },
        "measure_because": row.measure_because or None,
        "before_event": row.before_event
        and {"event": row.before_event.code, "starts_on": _iso(row.before_event.starts_on)},
    }


def empty_positions(on):
    """Positions of mats in service that hold no segment on that day, by mat and position."""
    filled = set(Fitting.objects.in_service(on).values_list("mat", "position"))
    wanted = DesignPosition.objects.of_mats_in_use(on)
    return [
        {"mat": number, "position": position}
        for mat, number, position in wanted
        if (mat, position) not in filled
    ]


def held_back(on):
    """Mats in service with an open fault that is no cable's and no connector's, oldest fault of each kind first."""
    faults = Fault.objects.holding_back(on).of_mats_in_use(on).order_by("mat__number", "reported_on", "number")
    return [
        {"mat": number, "fault": place, "since": _iso(since)}
        for number, place, since in faults.values_list("mat__number", "place", "reported_on")
    ]


def _check_not_before_assessed(on):
    last = PoolState.objects.filter(pk=1).values_list("assessed_on", flat=True).first()
    if last is not None and on < last:
        raise ValidationError(f"The pool was assessed as of {last}: ask for that day or a later one.")


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

