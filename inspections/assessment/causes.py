"""The causes of being due as columns of the assessed segments, and the status that follows."""

import numpy as np

from fleet.choices import FittedBasis

from ..models.assessments import READINGS_OF_A_RISE
from ..numeric import due
from ..numeric.calendar import NO_DAY, add_months, day_words, whole_months
from ..numeric.day_readings import day_verdicts
from ..numeric.words import Cause, MeasureReason, Status, TrendFrom, Verdict

LONGER_THAN_ALL_MM = 9_999_999


def age_columns(state):
    first, months = state.first, whole_months(state.of_place("age_limit_years"))
    due_on = add_months(state.fittings.fitted_on[first], months)
    return {
        "age_due_on": np.where(months > 0, due_on, NO_DAY),
        "age_limit_months": _or_off(months),
        "age_basis": state.fittings.basis[first],
    }


def events_columns(state):
    limit = state.of_place("event_limit")
    cause = due.events_cause(state.fittings, state.current, state.logs, limit, state.day)
    return {
        "event_count": cause.count,
        "event_limit": _or_off(limit),
        "not_confirmed": cause.not_confirmed,
        "given_way": cause.given_way,
        "events_due_on": cause.due_on,
        "events_basis": cause.basis,
    }


def _or_off(limit):
    """A limit as it is kept: none where it is switched off."""
    return np.where(limit > 0, limit.astype(object), None)


def loss_columns(state, newest):
    limit_db = state.of_place("loss_limit_db")
    judged, said = day_verdicts(newest, limit_db)
    fresh = due.fresh(newest.day, state.of_place("measure_again_months"), state.day)
    return {
        "measured_on": newest.day,
        "loss_db": newest.loss_db,
        "reference_loss_db": newest.reference_loss_db,
        "loss_uncertainty_db": newest.uncertainty_db,
        "loss_limit_db": limit_db,
        "verdict": judged,
        "go_no_go": said != "",
        "measured_sound": _is_sound(judged, newest.doubtful) & fresh,
        "loss_due_on": np.where(judged == Verdict.OVER, newest.day, NO_DAY),
    }


def _is_sound(verdict, doubtful):
    """The newest reading is within for sure, whatever its age."""
    return (verdict == Verdict.WITHIN) & ~doubtful


def damage_columns(state):
    due_on = np.full(len(state.current), NO_DAY)
    place = np.full(len(state.current), "", dtype=object)
    rows = {segment: row for row, segment in enumerate(state.segment.tolist())} if state.cable_faults else {}
    for segment, reported_on, where in state.cable_faults:
        row = rows.get(segment)
        if row is not None and np.isnat(due_on[row]):
            due_on[row], place[row] = np.datetime64(reported_on, "D"), where
    return {"damage_due_on": due_on, "damage_place": place}


def status_columns(state, columns, doubtful):
    """Which causes apply, earliest due date and leading cause, the event before it, what to measure, the status."""
    has_bench, look_ahead_days = state.has_bench(), state.policy.value("look_ahead_days")
    judged, judged_once = _judged_by_own_readings(state, columns, doubtful)
    given = {cause: columns[f"{cause}_due_on"] for cause in Cause}
    for cause in (Cause.AGE, Cause.EVENTS):
        given[cause] = np.where(judged, NO_DAY, given[cause])
    due_on, cause = due.leading_cause(given, state.day)
    usage_row = state.logs.first_planned_from(state.mat, due_on)
    starts_on, ends_on = np.append(state.usage.starts_on, NO_DAY), np.append(state.usage.ends_on, NO_DAY)
    needed_by = due.day_in_question(due_on, ends_on[usage_row], state.day, look_ahead_days)
    only_similar = due.only_due_by(Cause.TREND, given, needed_by) & (columns["trend_from"] == TrendFrom.SIMILAR)
    broken = (given[Cause.DAMAGE] <= state.day) | (given[Cause.LOSS] <= state.day) | (given[Cause.TREND] <= state.day)
    measure_instead = has_bench & (only_similar | (judged_once & ~broken))
    measure = _measure_reason(state, columns, doubtful, has_bench)
    measure = np.where((measure == "") & has_bench & only_similar, MeasureReason.SIMILAR_DUE, measure)
    unknown = _unknown(columns, due_on)
    urgency = due.status_order(due_on, usage_row, measure, measure_instead, unknown, state.day, look_ahead_days)
    event = np.append(state.usage.event, 0).astype(object)
    wanted_on = np.where(urgency <= Status.CHANGE_BEFORE.order, starts_on[usage_row], NO_DAY)
    return {
        "age_applies": ~judged,
        "events_applies": ~judged,
        "due_on": due_on,
        "cause": cause,
        "measure_reason": measure,
        "urgency": urgency,
        "list_key": _list_keys(state, urgency, cause, wanted_on, due_on),
        "before_event_id": np.where(usage_row >= 0, event[usage_row], None),
        "wanted_on": wanted_on,
    }


def _judged_by_own_readings(state, columns, doubtful):
    """(age and events do not hold; only the age of the newest reading makes them hold again), for each segment."""
    decide = state.of_place("own_readings_decide").astype(bool)
    sound = _is_sound(columns["verdict"], doubtful)
    judged = decide & due.has_own_say(sound, columns["trend_from"], columns["trend_no_date_reason"])
    return judged & columns["measured_sound"], judged & ~columns["measured_sound"]


def _unknown(columns, due_on):
    """Nothing has a date and no fresh reading says it is sound; or its age is unknown and it was never measured."""
    age_unknown = (columns["age_basis"] == FittedBasis.NOT_LATER_THAN) & np.isnat(columns["measured_on"])
    return (np.isnat(due_on) & ~columns["measured_sound"]) | age_unknown


def _list_keys(state, urgency, cause, wanted_on, due_on):
    """Texts that sort as the due list does: no day is written NaT, which stands after all days."""
    rows = state.current
    gravity = np.select([cause == each for each in Cause], [each.gravity for each in Cause], 0)
    gravity = np.where(urgency == Status.CHANGE_NOW.order, gravity, 0)
    # the longest first: what is missing to a length that no cable has
    missing_mm = LONGER_THAN_ALL_MM - np.rint(1000 * state.fittings.length_m[rows]).astype(np.int64)
    mat_number, position = state.fittings.mat_number[rows], state.fittings.position[rows]
    columns = (urgency, gravity, day_words(wanted_on), day_words(due_on), missing_mm, mat_number, position)
    parts = zip(*(column.tolist() for column in columns), strict=True)
    # a tab sorts before everything that a mat number may hold, so that M-1 stands before M-10
    keys = [f"{u}{g} {event} {due} {mm:07} {mat}\t{number:05}" for u, g, event, due, mm, mat, number in parts]
    return np.array(keys, dtype=object)


def _measure_reason(state, columns, doubtful, has_bench):
    return due.measure_reason(
        columns["verdict"],
        doubtful,
        columns["trend_departure"],
        np.where(columns["trend_readings"] >= READINGS_OF_A_RISE, columns["trend_no_date_reason"], ""),
        has_bench,
        columns["measured_on"],
        state.fittings.fitted_on[state.first],
        state.of_place("measure_again_months"),
        state.day,
    )
